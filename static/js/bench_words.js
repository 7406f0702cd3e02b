// How is something said here? The words stand in the page, in its language; the scripts know them by their names.

const words = JSON.parse(document.getElementById("words")?.textContent || "{}");

// Gives the words of that name with what belongs into their {places}; the name itself where the page lacks them.
export function say(name, places = {}) {
  return (words[name] ?? name).replace(/\{(\w+)\}/g, (_, place) => String(places[place] ?? ""));
}

// Gives “1 tray” or “12 trays”: `name` has two sayings, for one and for many.
export const counted = (number, name) => say(`${name}_${number === 1 ? "one" : "many"}`, { n: number });

export const unitWords = (tray) => say(tray?.unit || "plants");

export const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);
