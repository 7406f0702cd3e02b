"""What does the bench page say, and in which language?

A tablet is shared, and keeps the page while the server is away: it speaks the nursery's language,
not that of whoever opened it. The words come with the page; its scripts know them by their names.
"""

from __future__ import annotations

from batches.services.language import catalogue_of

#: how a catalogue tells the sentences of the bench page from others
_CONTEXT = "bench\x04"

#: name → English, with {places} for what differs; “…_one” and “…_many” are two sayings of a number
BENCH_WORDS = {
    # days
    "weekdays": "Sun Mon Tue Wed Thu Fri Sat",
    "months": "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec",
    "day": "{weekday} {day} {month} {year}",
    # units, and words that stand in many places
    "plants": "plants",
    "patches": "patches",
    "pots": "pots",
    "tray_one": "{n} tray",
    "tray_many": "{n} trays",
    "count": "{n} {unit}",
    "about_count": "about {n} {unit}",
    "about": "about {n}",
    "isolated": "isolated",
    "is_among_others": "back among the others",
    "late": "late",
    "shut": "shut",
    "control": "control",
    "caution": "Caution",
    "close": "Close",
    "change": "Change",
    "undo": "Undo",
    "back": "Back",
    "delete": "Delete",
    "done": "Done",
    "move": "Move",
    "isolate": "Isolate",
    "among_others": "Back among others",
    "prick_out": "Prick out",
    "pot_up": "Pot up",
    "the_round": "The round",
    # a look in few words
    "no_bench": "no bench",
    "row": "row {n}",
    "column": "column {n}",
    "n_lost": "{n} lost",
    "opened": "opened",
    "a_note": "a note",
    "looked_over": "looked over",
    "nothing_new": "nothing new",
    # the look
    "save_change": "Save the change",
    "looked_nothing_new": "Looked, nothing new",
    "save_look": "Save the look",
    "what_seen": "What did you see?",
    "tab_trouble": "Trouble",
    "tab_count": "Count",
    "tab_lost": "Lost",
    "tab_more": "More",
    "new_stage": "New stage seen",
    "new_stage_asked": "New stage seen?",
    "same_as_last": "Same as last: {what}",
    "not_counted_pad": "not counted; open the number pad",
    "counted_pad": "{n} {unit}; open the number pad",
    "number_pad": "Number pad",
    "alive_of": "Alive, {unit}",
    "lost_of": "Lost, {unit}",
    "all_alive": "All alive: {n}",
    "full": "Full: {n}",
    "about_only": "About, not one by one",
    "no_count": "No count",
    "not_counted_yet": "Not counted so far ({unit}).",
    "stock_book_says": "The stock book says {n} {unit}.",
    "write_as_lost": "Write {n} as lost",
    "cause": "Cause",
    "lost_since": (
        "Lost since the last look ({unit}). A count under “Count” is what is alive after it."
    ),
    "another_cause": "Another cause",
    "lid_opened": "The lid was opened",
    "note": "Note",
    "caution_look": (
        "Potting mixes and old litter can carry Legionella: do not breathe dust or spray, "
        "wash your hands. Local rules decide."
    ),
    # photos
    "store_full": (
        "This tablet's store is nearly full, so it takes no more photos. Looks still go. "
        "Send what waits first."
    ),
    "no_picture": (
        "This file is no picture that the tablet can read. The look is kept; take the photo again."
    ),
    "photo": "Photo",
    "photos": "Photo: {n}",
    "drop_photo": "Drop the photo",
    "last_photo": "the last photo",
    "photo_again": "The look is kept; take the photo again.",
    # picking and potting up
    "same_tray": "This is the tray that the plants leave. Scan the tray they go into.",
    "left_this_tray": "{unit} that left this tray",
    "into_prick_out": "plants in it",
    "into_pot_up": "pots in it",
    "picking_lead": "Say how many left, then scan or type the label of each tray they go into.",
    "caution_picking": (
        "Dry mix and old litter can carry Legionella and dust: wet the mix, do not breathe "
        "it, wash your hands. Mind the blade. Local rules decide."
    ),
    "filled_one": "{n} tray filled",
    "filled_many": "{n} trays filled",
    "none_filled": (
        "None yet. The codes were laid out and printed before the tray was opened; scan the first."
    ),
    "tray_without_code": "Tray {n}, a code is given to it",
    "leave_out": "Leave it out",
    "type_code": "Type a code",
    "tray_without_label": "A tray without a label",
    "pot_size": "Pot size",
    "more_to_come": "More to come",
    "come_back_on": "Come back on",
    "log_prick_out": "Log: {n} pricked out",
    "log_pot_up": "Log: {n} potted up",
    "told_prick_out": "{code}: {n} {unit} pricked out into {trays}.",
    "told_pot_up": "{code}: {n} {unit} potted up into {trays}.",
    # the round
    "what_to_list": "What to list",
    "tray_by_tray": "Tray by tray",
    "bench_by_bench": "Bench by bench",
    "no_list": (
        "This tablet holds no list of trays yet. It needs the nursery's computer once; "
        "codes can be typed or scanned already."
    ),
    "due_one": "{n} look is due",
    "due_many": "{n} looks are due",
    "of_them_late": "{n} of them late",
    "list_of": "List of {hour}.",
    "house_is_shut": "{house} is shut until {day}: {why}. Its trays are left out.",
    "round_done": "The round is done",
    "nothing_due": "Nothing is due. Scan a tray to look at it all the same, or go bench by bench.",
    "show_more": "Show {n} more of {m}",
    "not_sent": "not yet sent",
    "begun": "begun",
    "no_label": "no label",
    "trays_and_due": "{trays}, {n} due",
    "look_it_over": "Look it over",
    "look_over": "Look over {bench}",
    "tick_not_well": "Tick what is not well. The ticked ones open one after the other.",
    "shut_left_out": "{trays} until {day}: left out.",
    "apart_left_out": "{trays}: left out, looked at last.",
    "open_trays": "Open {trays}",
    "all_well_except": "All well except the ticked",
    "all_well": "All well",
    "told_looked_over": "{bench}: {trays} looked over, all well.",
    "row_asked": "Row",
    "column_asked": "Column",
    "move_what": "Move {what}",
    "where_to": "Now: {place}. Where do you put it?",
    "which_bench": "Which bench do you put them on?",
    "leave_them": "Leave them where they are",
    "told_moved": "{what}: now on {bench}.",
    # what a scan names
    "no_code": "“{code}” is no code of a tray.",
    "mistyped": "“{code}” is mistyped: its last letter does not fit. Read the label again.",
    "is_batch": "{code} is a batch. Scan one of its trays.",
    "is_L": "{code} is a spore lot, not a tray.",
    "is_M": "{code} is a batch of mix, not a tray.",
    "is_P": "{code} is an origin, not a tray.",
    "is_R": "{code} is an order, not a tray.",
    "no_such_tray": "“{code}” is no standing tray on this tablet's list.",
    "log_all_the_same": "Log a look all the same",
    # sending
    "foreign": (
        "Something other than the nursery's computer answers here, perhaps a sign-in page "
        "of the Wi-Fi."
    ),
    "away": "The nursery's computer does not answer.",
    "busy": "The nursery's computer is busy.",
    "stranger": "This tablet is not enrolled here. Ask a manager to enrol it; nothing is lost.",
    "revoked": "This tablet was revoked. Ask a manager to enrol it again; nothing is lost.",
    "too_large": "It is too large for the nursery's computer.",
    "fault": "The nursery's computer met a fault ({n}).",
    "broken_off": "the browser broke it off",
    "not_kept": "This tablet could not keep it ({why}).",
    "still_here": "What you entered is still here. Reload the page, then save again.",
    "no_fetch": "The list of trays could not be fetched.",
    "plain_http": "Keep this page open: without https, a reload needs the nursery's computer.",
    # the strip
    "n_waiting": "{n} waiting",
    "photo_one": "{n} photo",
    "photo_many": "{n} photos",
    "photo_waiting_one": "{n} photo waiting",
    "photo_waiting_many": "{n} photos waiting",
    "not_enrolled": "not enrolled",
    "need_a_look_one": "{n} needs a look",
    "need_a_look_many": "{n} need a look",
    "last_sent": "last sent {when}",
    "all_sent": "all sent {when}",
    "no_answer": "no answer",
    "nothing_waits": "nothing waits",
    "clock_off": (
        "This tablet's clock says {here}, the nursery's says {there}. Looks are put right "
        "when they are sent; set the tablet's clock all the same."
    ),
    "both_times": "{there} (this tablet's clock: {here})",
    # a tray in the hand
    "last_look": "Last look {when}: {what}.",
    "nobody_looked": "Nobody has looked at it yet.",
    "not_on_list": (
        "It is not on this tablet's list. What you log is kept and sent; if the nursery "
        "does not know the code, the manager settles it."
    ),
    "do_not_go_in": "Shut until {until}. Do not go in; the label and your local rules decide.",
    "is_held": "Held: {why} Tend it as ever; nothing of it leaves.",
    "isolated_look_last": "Isolated: look at it last, then wash hands and tools.",
    "isolated_wash": "Isolated: wash hands and tools before the next tray.",
    "is_logged": "is logged",
    "safe_here": "It is safe on this tablet.",
    "look_again": "Look again",
    "to_the_round": "To the round",
    "next_of": "Next of {n}:",
    "next": "Next:",
    # what waits
    "what_waits": "What waits here",
    "send_now": "Send now",
    "save_to_file": "Save what waits to a file",
    "fetch_list": "Fetch the list anew",
    "need_a_look": "Need a look",
    "put_aside": "Put aside",
    "was_put_aside": "put aside",
    "have_read": "I have read it",
    "photo_refused": "photo not taken",
    "met_fault": "met a fault",
    "stuck": (
        "It is kept here and tried again at {when}; all others go on. If it stays, save what "
        "waits to a file and tell a manager."
    ),
    "waiting_n": "Waiting: {n}",
    "nothing_waits_here": "Nothing waits.",
    "and_more": "And {n} more.",
    "and_older": "And {n} older ones.",
    "photos_wait": "Photos that wait: {n}. They go after the looks. A file holds the looks alone.",
    "sent_lately": "Sent in the last 14 days",
    "nothing_yet": "Nothing yet.",
    "refused": "refused",
    "to_settle": "to settle",
    "sent": "sent",
    "withdrawn": "withdrawn",
    "not_proved": "name not proved",
    "did_strike_out": "withdrawn",
    "did_move": "moved to {bench}",
    "did_prick_out": "{n} pricked out",
    "did_pot_up": "{n} potted up",
    "withdraw": "Withdraw",
    "told_withdrawn": "{code}: it is withdrawn.",
    "told_file": (
        "The file holds what waits. It stays here as well until it is sent; a manager can "
        "take the file in under Tablets."
    ),
    "told_logged": "Logged. {what}",
    "told_undone": "Undone: {what}",
    # who is here
    "who_at_bench": "Who is at the bench?",
    "who_is_here": "Who is here?",
    "no_name": "No name",
    "tap": "Tap",
    "tap_name": "Tap your name. It stays until you change it; what was begun is kept.",
    "no_names": (
        "No names are on this tablet yet. It needs the nursery's computer once; looks can "
        "be logged without a name."
    ),
    "stay": "Stay {name}",
    "without_name": "Go on without a name",
    "digits_typed": "digits typed",
    "pin_unchecked": "The PIN could not be checked now; your looks are noted as not proved.",
    "enter": "Enter",
    "pin_of": "PIN of {name}",
    "other_name": "Other name",
    "badge_too": "A badge held under the scanner does as well.",
    "badge_needs_server": (
        "A badge needs the nursery's computer, which does not answer. Tap your name."
    ),
    "is_at_bench": "{name} is at the bench.",
    "wait": "Wait {n} seconds.",
}


def bench_words(*, language: str) -> dict[str, str]:
    """Return the words of the bench page by their names, as the language says them."""
    catalogue = catalogue_of(language)
    return {
        name: catalogue.get(_CONTEXT + english) or catalogue.get(english, english)
        for name, english in BENCH_WORDS.items()
    }
