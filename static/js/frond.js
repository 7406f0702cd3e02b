// What does every page need beside htmx? Five small things, and nothing else:
// the CSRF token read from the cookie when something is sent, a guard against one tap counting twice,
// a visible word when a send failed (the form is kept), "/" to the search box, and a switch for that key.
(() => {
  "use strict";
  const root = document.documentElement;
  const REPEAT_MS = 400;

  // A page may stand open overnight while another tab signs in anew: its own token is then stale, the cookie never is.
  function csrfToken() {
    const wanted = root.dataset.csrfCookie;
    for (const part of document.cookie.split(";")) {
      const cut = part.indexOf("=");
      const name = part.slice(0, cut).trim();
      if (cut > 0 && (wanted ? name === wanted : name.includes("csrf"))) {
        return decodeURIComponent(part.slice(cut + 1).trim());
      }
    }
    return "";
  }

  document.addEventListener("htmx:configRequest", (event) => {
    const token = csrfToken();
    if (!token || event.detail.verb === "get") return;
    event.detail.headers["X-CSRFToken"] = token;
    // Django takes the field of the form before the header, so the stale one goes.
    delete event.detail.parameters.csrfmiddlewaretoken;
  });

  document.addEventListener("submit", (event) => {
    const field = event.target.querySelector("input[name=csrfmiddlewaretoken]");
    const token = csrfToken();
    if (field && token) field.value = token;
  }, true);

  // Water on the glass and shaky fingers tap twice. The second tap may meet a new element in the same place, so taps
  // are told apart by what they say and send, not by the element.
  let lastTap = "";
  let lastTapAt = -Infinity;
  document.addEventListener("click", (event) => {
    const tapped = event.target.closest("button, a.button, a.tile, .cell, summary, .toggle input");
    if (!tapped || "repeat" in tapped.dataset) return;
    const says = [tapped.id, tapped.name, tapped.value, tapped.href, tapped.form && tapped.form.getAttribute("action"),
      tapped.textContent.trim()].join("|");
    if (says === lastTap && event.timeStamp - lastTapAt < REPEAT_MS) {
      event.preventDefault();
      event.stopImmediatePropagation();
      return;
    }
    lastTap = says;
    lastTapAt = event.timeStamp;
  }, true);

  // What it says stands in the banner's data, in the page's language: by the answer's number, or a name.
  function failed(names, { own = "", number = "", signIn = false } = {}) {
    const banner = document.getElementById("send-failed");
    if (!banner) return;
    banner.hidden = false;
    const known = names.find((name) => name in banner.dataset);
    banner.querySelector("p").textContent = own || banner.dataset[known].replace("{n}", number);
    const link = banner.querySelector("a");
    if (link) link.hidden = !signIn;
  }

  // Only a form that carries the id of what it makes may be sent twice and stored once.
  function noAnswer(event) {
    const { verb, formData } = event.detail.requestConfig;
    if (verb === "get") failed(["unread"]);
    else failed([formData.has("record_id") ? "once" : "unsure"]);
  }
  document.addEventListener("htmx:sendError", noAnswer);
  document.addEventListener("htmx:timeout", noAnswer);
  document.addEventListener("htmx:responseError", (event) => {
    const { status, responseText } = event.detail.xhr;
    const kind = event.detail.xhr.getResponseHeader("Content-Type") || "";
    const own = kind.startsWith("text/plain") && responseText.length <= 400 ? responseText.trim() : "";
    failed([String(status), "other"], { own, number: status, signIn: status === 401 || status === 403 });
  });
  document.addEventListener("htmx:afterRequest", (event) => {
    const banner = document.getElementById("send-failed");
    if (banner && event.detail.successful) banner.hidden = true;
  });
  document.addEventListener("click", (event) => {
    if (event.target.closest("#send-failed button")) document.getElementById("send-failed").hidden = true;
  });

  // Keys without a modifier need a switch (WCAG 2.1.4); it is kept in this browser.
  const KEPT = "frondbook-slash-key";
  function slashKeyOn() {
    try { return localStorage.getItem(KEPT) !== "off"; } catch { return true; }
  }
  document.addEventListener("keydown", (event) => {
    if (!"/?".includes(event.key) || event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
    if (event.target.closest("input, select, textarea, [contenteditable]") || !slashKeyOn()) return;
    const help = document.querySelector("[data-help]");
    if (event.key === "?" && help) { event.preventDefault(); help.click(); return; }
    const box = document.getElementById("find-text");
    if (event.key !== "/" || !box) return;
    event.preventDefault();
    box.focus();
    box.select();
  });
  document.addEventListener("DOMContentLoaded", () => {
    const button = document.getElementById("slash-key");
    if (!button) return;
    button.hidden = false;
    button.setAttribute("aria-pressed", String(slashKeyOn()));
    button.addEventListener("click", () => {
      const on = !slashKeyOn();
      try { localStorage.setItem(KEPT, on ? "on" : "off"); } catch { return; }
      button.setAttribute("aria-pressed", String(on));
    });
  });
})();
