//! Every key of the program: one table for handling, footer and help.

use super::chord::{Chord, Key};
use super::keymap::{Binding, KeyTable};
use crate::words::words;

words! {
    /// Where a key holds.
    Place, "place of a key" {
        /// The checklist.
        Checks = "checks",
        /// The read-back form while a field has the cursor.
        Form = "form",
        /// The read-back screen while the row below the fields has the cursor.
        Settings = "settings",
        /// The treat screen.
        Treat = "treat",
        /// An advice waits for its answer on the treat screen.
        Advice = "advice",
        /// The pictures.
        Pictures = "pictures",
        /// The close screen.
        Close = "close",
        /// The start screen.
        Start = "start",
        /// The supervisor's screens.
        Review = "review",
        /// Everywhere in a session.
        Anywhere = "anywhere",
        /// Everywhere in a session but in a text field.
        NotInText = "not-in-text",
    }
}

words! {
    /// What a key does.
    Action, "action" {
        /// Show the keys.
        Help = "help",
        /// Go to the checklist.
        GoChecks = "go-checks",
        /// Go to the read-back.
        GoSettings = "go-settings",
        /// Go to the treat screen.
        GoTreat = "go-treat",
        /// Go to the close screen.
        GoClose = "go-close",
        /// Leave the program; the session stays open.
        Leave = "leave",
        /// Take the next theme.
        NextTheme = "next-theme",
        /// Draw everything anew.
        Repaint = "repaint",
        /// Suspend to the shell.
        Suspend = "suspend",
        /// Go on recording in another directory.
        SaveElsewhere = "save-elsewhere",
        /// Answer yes.
        Yes = "yes",
        /// Answer no.
        No = "no",
        /// Answer "not applicable".
        NotApplicable = "not-applicable",
        /// Type a value.
        Value = "value",
        /// Override a blocking item.
        Override = "override",
        /// Previous line or field.
        Up = "up",
        /// Next line or field.
        Down = "down",
        /// Next phase of the checklist.
        NextPhase = "next-phase",
        /// Previous phase of the checklist.
        PreviousPhase = "previous-phase",
        /// Next zone.
        NextZone = "next-zone",
        /// Previous zone.
        PreviousZone = "previous-zone",
        /// Leave the fields of the form.
        LeaveForm = "leave-form",
        /// Compare what the device shows and confirm.
        Confirm = "confirm",
        /// Lower the fluence by a step of the device.
        LowerStep = "lower-step",
        /// Raise the fluence by a step of the device.
        RaiseStep = "raise-step",
        /// Type what the device shows once more.
        EditForm = "edit-form",
        /// Count one pulse.
        Pulse = "pulse",
        /// Start or stop a train.
        Train = "train",
        /// Start the next pass.
        StartPass = "start-pass",
        /// End the pass.
        EndPass = "end-pass",
        /// Have done with a zone.
        EndZone = "end-zone",
        /// Read the device's counter.
        Counter = "counter",
        /// Type a number of pulses.
        Count = "count",
        /// Correct the last entry.
        Correct = "correct",
        /// Take back the last entry.
        Undo = "undo",
        /// Pause or go on.
        Pause = "pause",
        /// Whitening seen.
        Whitening = "whitening",
        /// Whitening faded.
        Faded = "faded",
        /// Pinpoint bleeding seen.
        Bleeding = "bleeding",
        /// No response.
        NoResponse = "no-response",
        /// Another response.
        Responses = "responses",
        /// Pain score.
        Pain = "pain",
        /// Write a note.
        Note = "note",
        /// Remark on the latest response.
        Remark = "remark",
        /// Follow the advice.
        Accept = "accept",
        /// Take the other setting that the advice offers.
        Alternative = "alternative",
        /// Decline the advice.
        Decline = "decline",
        /// Silence the bell, or let it ring again.
        Bell = "bell",
        /// Show only what is read from two metres, or everything again.
        Far = "far",
        /// Show the pictures, or the next one.
        Pictures = "pictures",
        /// Show the picture before.
        PictureBefore = "picture-before",
        /// Back to the screen before.
        Back = "back",
        /// Stop.
        Stop = "stop",
        /// Let a minute pass, in practice.
        LetTimePass = "let-time-pass",
        /// Close the session.
        CloseSession = "close-session",
        /// Take the chosen line of the start screen.
        Open = "open",
        /// Leave the start screen.
        Quit = "quit",
        /// A window's rows further.
        PageOn = "page-on",
        /// A window's rows back.
        PageBack = "page-back",
        /// To the first line.
        First = "first-line",
        /// To the last line.
        Last = "last-line",
        /// Type what is to be found.
        Search = "find-sessions",
        /// Take the next order.
        Sort = "sort-list",
        /// Treatments or practice.
        PracticeList = "practice-list",
        /// The client's sessions.
        Course = "client-course",
        /// Figures over the sessions shown.
        Statistics = "show-statistics",
        /// Progress in practice.
        Progress = "practice-progress",
        /// The debrief of a session of practice.
        Debrief = "show-debrief",
        /// Next part of what is shown.
        NextPart = "next-part",
        /// Part before.
        PartBefore = "part-before",
    }
}

/// The default table.
#[must_use]
pub fn table() -> KeyTable<Place, Action> {
    let mut rows = Vec::new();
    let mut add = |context, keys: &[Chord], action, label, help| {
        rows.extend(keys.iter().map(|chord| Binding { context, chord: *chord, action, label, help }));
    };
    let c = Chord::char;
    let k = Chord::key;
    let ctrl = |letter| Chord { ctrl: true, ..Chord::char(letter) };
    use Action as A;
    use Place as P;

    add(P::Checks, &[c('y')], A::Yes, "yes", "Answer yes: the statement holds, or the warning was seen.");
    add(P::Checks, &[c('n')], A::No, "no", "Answer no; you are asked why.");
    add(P::Checks, &[c('a')], A::NotApplicable, "n/a", "The item does not apply here, where the protocol allows that.");
    add(P::Checks, &[c('v')], A::Value, "value", "Type the value that the item asks for.");
    add(P::Checks, &[c('o')], A::Override, "override", "Override a blocking item with name, role and reason.");
    add(P::Checks, &[k(Key::Down), c('j')], A::Down, "", "Next item.");
    add(P::Checks, &[k(Key::Up), c('k')], A::Up, "", "Item before.");
    add(P::Checks, &[k(Key::Tab)], A::NextPhase, "next phase", "Sign in, time out, sign out.");
    add(P::Checks, &[Chord { shift: true, ..k(Key::Tab) }], A::PreviousPhase, "", "Phase before.");

    add(P::Form, &[k(Key::Tab), k(Key::Enter), k(Key::Down)], A::Down, "next field", "Next field, then the row below.");
    add(P::Form, &[Chord { shift: true, ..k(Key::Tab) }, k(Key::Up)], A::Up, "field before", "Field before.");
    add(P::Form, &[k(Key::Esc)], A::LeaveForm, "leave fields", "Go to the row below the fields.");
    add(P::Form, &[k(Key::PageDown)], A::NextZone, "", "Next zone.");
    add(P::Form, &[k(Key::PageUp)], A::PreviousZone, "", "Zone before.");

    add(
        P::Settings,
        &[c('c')],
        A::Confirm,
        "compare",
        "Compare what the device shows with the setting; confirms when they agree.",
    );
    add(P::Settings, &[c('i'), k(Key::Up)], A::EditForm, "type again", "Back into the fields.");
    add(
        P::Settings,
        &[c('-')],
        A::LowerStep,
        "lower",
        "Lower the fluence by one step of the device; you are asked why.",
    );
    add(
        P::Settings,
        &[c('+')],
        A::RaiseStep,
        "raise",
        "Raise the fluence by one step, never above the ceiling; you are asked why.",
    );
    add(P::Settings, &[c('n'), k(Key::PageDown)], A::NextZone, "next zone", "Next zone.");
    add(P::Settings, &[c('p'), k(Key::PageUp)], A::PreviousZone, "", "Zone before.");

    add(P::Advice, &[c('a')], A::Accept, "", "Follow the advice on top.");
    add(P::Advice, &[c('l')], A::Alternative, "", "Take the larger spot that the advice on top offers instead.");
    add(P::Advice, &[c('d')], A::Decline, "", "Decline the advice on top; you are asked why.");
    add(P::Advice, &[c('x')], A::Stop, "", "Stop the zone, or all zones where the advice says so.");

    add(P::Treat, &[c(' '), k(Key::Insert)], A::Pulse, "pulse", "Count one pulse. Holding the key does not count on.");
    add(P::Treat, &[c('t')], A::Train, "train", "Start or stop a train: pulses are counted by rate and time.");
    add(P::Treat, &[c('n')], A::StartPass, "start pass", "Start the next pass of this zone.");
    add(P::Treat, &[c('e')], A::EndPass, "end pass", "End the pass and compare with the device's counter.");
    add(P::Treat, &[c('w')], A::Whitening, "whitening", "Whitening seen; then its grade 1 to 3.");
    add(P::Treat, &[c('f')], A::Faded, "faded", "The whitening has faded.");
    add(P::Treat, &[c('b')], A::Bleeding, "bleeding", "Pinpoint bleeding seen.");
    add(P::Treat, &[c('r')], A::Responses, "response", "All other responses, one letter each.");
    add(P::Treat, &[c('o')], A::NoResponse, "none seen", "No response at all.");
    add(P::Treat, &[c('v')], A::Pain, "pain", "Pain score 0 to 10.");
    add(
        P::Treat,
        &[c('u'), k(Key::Backspace)],
        A::Undo,
        "take back",
        "Take back the last entry of this pass; it stays in the journal as taken back.",
    );
    add(P::Treat, &[c('#')], A::Count, "", "Type a number of pulses; a digit does the same.");
    add(P::Treat, &[c('k')], A::Correct, "correct", "Set the last pulse entry to another number.");
    add(P::Treat, &[c('c')], A::Counter, "counter", "Type what the device's counter shows.");
    add(P::Treat, &[c('p')], A::Pause, "pause", "Pause counting, or go on.");
    add(P::Treat, &[c('m')], A::Note, "note", "Write a note.");
    add(P::Treat, &[c('i')], A::Remark, "remark", "Remark on the latest response.");
    add(P::Treat, &[c('z')], A::EndZone, "end zone", "Have done with this zone, or skip it.");
    add(P::Treat, &[k(Key::F(6))], A::Far, "", "Far view: only what is read from two metres; again for everything.");
    add(P::Treat, &[c('s')], A::Bell, "", "Silence the bell, or let it ring again; STOP always rings.");
    add(P::Treat, &[c(']'), k(Key::PageDown)], A::NextZone, "", "Next zone, between passes.");
    add(P::Treat, &[c('['), k(Key::PageUp)], A::PreviousZone, "", "Zone before, between passes.");

    for place in [P::Form, P::Settings, P::Treat] {
        add(place, &[k(Key::F(8))], A::Pictures, "", "Pictures: light in depth, confinement, the session, the zone.");
    }
    add(
        P::Pictures,
        &[k(Key::F(8)), k(Key::Right), k(Key::Tab)],
        A::Pictures,
        "next picture",
        "Next picture; after the last back to the screen before.",
    );
    let back_tab = Chord { shift: true, ..k(Key::Tab) };
    add(P::Pictures, &[k(Key::Left), back_tab], A::PictureBefore, "picture before", "Picture before.");
    add(P::Pictures, &[k(Key::Esc)], A::Back, "back", "Back to the screen before.");

    add(P::Close, &[c('c')], A::CloseSession, "close", "Close the session; you are asked how it ended.");
    add(P::Close, &[c('m')], A::Note, "note", "Write a note.");
    add(P::Close, &[c('z')], A::EndZone, "end zone", "Have done with the first zone that is not finished.");

    add(P::Start, &[k(Key::Down), c('j')], A::Down, "down", "Next line.");
    add(P::Start, &[k(Key::Up), c('k')], A::Up, "up", "Line before.");
    add(P::Start, &[c('o'), k(Key::Enter)], A::Open, "open", "Take the chosen line.");
    add(P::Start, &[c('q'), k(Key::Esc)], A::Quit, "quit", "Leave.");

    let r = P::Review;
    add(r, &[k(Key::Enter), c('o')], A::Open, "open", "Open the chosen session.");
    add(r, &[c('/')], A::Search, "find", "Type what is to be found; Enter keeps it, Esc forgets it.");
    add(r, &[c('c')], A::Course, "course", "All sessions of this client code, oldest first.");
    add(r, &[c('s')], A::Statistics, "statistics", "Figures over the sessions that are shown.");
    add(r, &[c('g')], A::Progress, "progress", "Progress in practice, scenario by scenario.");
    add(r, &[c('b')], A::Debrief, "debrief", "What a session of practice was worth.");
    add(r, &[c('p')], A::PracticeList, "practice", "PRACTICE instead of treatments, and back.");
    add(r, &[c('x')], A::Sort, "order", "Next order of the list.");
    add(r, &[k(Key::Tab), k(Key::Right)], A::NextPart, "next part", "Next part of a session.");
    add(r, &[Chord { shift: true, ..k(Key::Tab) }, k(Key::Left)], A::PartBefore, "", "Part before.");
    add(r, &[k(Key::Down), c('j')], A::Down, "", "Next line.");
    add(r, &[k(Key::Up), c('k')], A::Up, "", "Line before.");
    add(r, &[k(Key::PageDown), c(' ')], A::PageOn, "", "A window's rows further.");
    add(r, &[k(Key::PageUp)], A::PageBack, "", "A window's rows back.");
    add(r, &[k(Key::Home)], A::First, "", "To the first line.");
    add(r, &[k(Key::End)], A::Last, "", "To the last line.");
    add(r, &[k(Key::Esc)], A::Back, "back", "Back to what was shown before; from the list, leave.");
    add(r, &[c('q')], A::Quit, "leave", "Leave.");
    add(r, &[c('?'), k(Key::F(1))], A::Help, "help", "Show or hide this help.");

    add(P::NotInText, &[c('?')], A::Help, "help", "Show or hide this help.");
    add(P::NotInText, &[c('q')], A::Leave, "leave", "Leave the program; the session stays open and can be resumed.");

    add(P::Anywhere, &[k(Key::F(1))], A::Help, "", "Show or hide this help.");
    add(P::Anywhere, &[k(Key::F(2))], A::GoChecks, "checks", "Go to the checklist.");
    add(P::Anywhere, &[k(Key::F(3))], A::GoSettings, "settings", "Go to the settings read-back.");
    add(P::Anywhere, &[k(Key::F(4))], A::GoTreat, "treat", "Go to the treat screen.");
    add(P::Anywhere, &[k(Key::F(5))], A::GoClose, "end", "Go to the close screen.");
    add(
        P::Anywhere,
        &[k(Key::F(7))],
        A::NextTheme,
        "",
        "Next theme, until the screen reads well through the eyewear worn.",
    );
    add(P::Anywhere, &[k(Key::F(9))], A::SaveElsewhere, "", "Go on recording in another directory.");
    add(P::Anywhere, &[k(Key::F(10))], A::LetTimePass, "", "In practice: let a minute pass at once.");
    add(P::Anywhere, &[ctrl('c')], A::Leave, "", "Stop a train and leave; the session stays open and can be resumed.");
    add(P::Anywhere, &[ctrl('l')], A::Repaint, "", "Draw the screen anew.");
    add(P::Anywhere, &[ctrl('z')], A::Suspend, "", "Suspend to the shell, between passes.");
    KeyTable::new(rows)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_key_has_two_meanings_in_one_place() {
        assert_eq!(table().find_conflicts(), vec![]);
    }

    #[test]
    fn letters_mean_nothing_outside_their_place_while_a_field_has_the_cursor() {
        let table = table();
        for letter in "abcdefghijklmnopqrstuvwxyz0123456789?+- ".chars() {
            assert_eq!(table.lookup(&[Place::Form, Place::Anywhere], Chord::char(letter)), None, "{letter}");
        }
    }

    #[test]
    fn the_keys_of_an_advice_are_none_of_the_treat_screens() {
        let table = table();
        for row in table.bindings().iter().filter(|r| r.context == Place::Advice) {
            assert_eq!(table.lookup(&[Place::Treat, Place::NotInText, Place::Anywhere], row.chord), None);
        }
    }

    #[test]
    fn no_act_that_cannot_be_taken_back_sits_on_enter_or_space() {
        let harmless = [Action::Pulse, Action::Down, Action::Open, Action::PageOn];
        for row in table().bindings() {
            if matches!(row.chord.key, Key::Enter | Key::Char(' ')) {
                assert!(harmless.contains(&row.action), "{:?}", row.action);
            }
        }
    }
}
