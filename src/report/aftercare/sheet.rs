//! What the sheet says, each item with its source.

use crate::anaesthetic::Dose;
use crate::plan::FitzpatrickType;
use crate::report::SessionRecord;
use crate::report::calendar::next_date;
use crate::session::Response;
use crate::words::BodySite;

/// How well an item is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Certainty {
    /// From a hospital's leaflet or a published study.
    Published,
    /// From a page that reports such a source.
    Reported,
    /// From memory: said as usual advice.
    Usual,
    /// The clinic's own record, or what the sheet says of itself.
    Record,
}

/// One item of the sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Item {
    /// What it says.
    pub text: String,
    /// How well that is known.
    pub certainty: Certainty,
    /// Where it is from.
    pub source: &'static str,
}

impl Item {
    /// As the client reads it: what is known from memory alone is called usual advice.
    #[must_use]
    pub fn said(&self) -> String {
        match self.certainty {
            Certainty::Usual => format!("Usual advice: {}", self.text),
            Certainty::Published | Certainty::Reported | Certainty::Record => self.text.clone(),
        }
    }
}

/// Items under a heading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Section {
    /// Heading.
    pub heading: &'static str,
    /// Items.
    pub items: Vec<Item>,
    /// True where help is needed at once.
    pub urgent: bool,
}

/// The sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sheet {
    /// The client code.
    pub code: String,
    /// Date of the session.
    pub date: String,
    /// Sections in order.
    pub sections: Vec<Section>,
}

const LEEDS: &str = "Leeds Teaching Hospitals, leaflet on laser treatment";
const NEWCASTLE: &str = "Newcastle Hospitals, leaflet on tattoo removal";
const MURPHY: &str = "Murphy, textbook on lasers, 2021";
const GENERAL: &str = "general, from memory";
const RECORD: &str = "the session's record";

fn item(certainty: Certainty, source: &'static str, text: impl Into<String>) -> Item {
    Item { text: text.into(), certainty, source }
}
fn published(source: &'static str, text: impl Into<String>) -> Item {
    item(Certainty::Published, source, text)
}
fn reported(source: &'static str, text: impl Into<String>) -> Item {
    item(Certainty::Reported, source, text)
}
fn usual(text: impl Into<String>) -> Item {
    item(Certainty::Usual, GENERAL, text)
}
fn record(text: impl Into<String>) -> Item {
    item(Certainty::Record, RECORD, text)
}

/// What the sheet depends on.
struct Seen<'a> {
    record: &'a SessionRecord,
}

impl Seen<'_> {
    fn treated(&self) -> impl Iterator<Item = (&crate::plan::Zone, &crate::session::ZoneState)> {
        let zones = self.record.state.opened.plan.zones.iter().zip(&self.record.state.zones);
        zones.filter(|(_, z)| z.total() > 0)
    }

    fn any(&self, kinds: &[Response]) -> bool {
        self.record.state.zones.iter().any(|z| z.responses.iter().any(|r| kinds.contains(&r.kind)))
    }

    fn cream(&self) -> bool {
        self.record.state.anaesthetics.iter().any(|g| matches!(g.dose, Dose::Cream { .. }))
    }

    fn injected(&self) -> bool {
        self.record.state.anaesthetics.iter().any(|g| matches!(g.dose, Dose::Lidocaine { .. }))
    }

    fn head_or_neck(&self) -> bool {
        self.treated().any(|(plan, _)| plan.site == BodySite::HeadNeck)
    }

    fn skin(&self) -> FitzpatrickType {
        self.record.state.opened.plan.client.skin
    }
}

/// The sheet of a session; none where no pulse was fired.
///
/// Sources beside each item: hospital leaflets and studies of what to do at home and what to expect (swelling and redness
/// up to 48 h, crusts for 7 to 14 days, no blister left after a week), and the responses of the skin. A blister is left
/// whole: that is the one practice the sheet names.
#[must_use]
pub fn sheet(record: &SessionRecord) -> Option<Sheet> {
    if record.summary.pulses == 0 {
        return None;
    }
    let seen = Seen { record };
    let sections = vec![
        first(&seen),
        Section { heading: "What was seen today", items: today(&seen), urgent: false },
        Section { heading: "What to expect", items: expect(&seen), urgent: false },
        Section { heading: "What to do", items: care(&seen), urgent: false },
        Section { heading: "Call your clinic", items: call(&seen), urgent: true },
        Section { heading: "Get emergency help at once", items: emergency(&seen), urgent: true },
        Section { heading: "Next time", items: next(&seen), urgent: false },
    ];
    Some(Sheet {
        code: record.summary.client_code.clone(),
        date: record.state.opened.date.to_string(),
        sections: sections.into_iter().filter(|s| !s.items.is_empty()).collect(),
    })
}

fn first(seen: &Seen<'_>) -> Section {
    let mut items =
        vec![record("Follow your clinic's instructions. Where they differ from this sheet, your clinic's count.")];
    items.extend(seen.record.marks().iter().map(|mark| record(mark.why())));
    if seen.record.standing.damage().is_some() {
        items.push(record("Parts of the record cannot be read, so this sheet may lack something: ask your clinic."));
    }
    Section { heading: "First", items, urgent: false }
}

fn today(seen: &Seen<'_>) -> Vec<Item> {
    let mut items = Vec::new();
    let places: Vec<String> = seen.treated().map(|(plan, _)| crate::text::shown(&plan.place)).collect();
    items.push(record(format!("Treated: {}.", places.join("; "))));
    let mut when = |kinds: &[Response], item: Item| {
        if seen.any(kinds) {
            items.push(item);
        }
    };
    when(
        &[Response::Whitening],
        reported(
            MURPHY,
            "The ink turned white for a while. That is expected; it goes by itself within about half an hour.",
        ),
    );
    when(
        &[Response::PinpointBleeding],
        published(
            "Khunger N et al., 2015 (listed as an early effect)",
            "Small points of bleeding were seen. Crusts may form there: leave them alone.",
        ),
    );
    when(
        &[Response::Purpura],
        reported(
            "summary of Kossida T et al., 2012 (passing, no lasting harm)",
            "Spots like a bruise were seen. They pass.",
        ),
    );
    when(
        &[Response::Blister],
        published(
            "Murphy 2021; Kirby W et al., 2010",
            "A blister was seen. Leave it whole, keep it clean and dry, and let your clinic look at it.",
        ),
    );
    when(
        &[Response::Separation, Response::WetSurface],
        usual(
            "the surface of the skin came loose or was wet in one place. It is cared for like a burn: do not rub it, keep \
             to what your clinic told you for it, and let your clinic look at it.",
        ),
    );
    when(
        &[Response::Darkening],
        published(
            "Chang LY et al., 2001",
            "Some ink turned darker. Wait, and let your clinic judge it before anything more is done there. Such ink may \
             clear later, or may not.",
        ),
    );
    when(
        &[Response::Wheals, Response::Systemic],
        published(
            "England RW et al., 2002",
            "Your skin or body reacted as in an allergy. Tell this to whoever treats you next, before they begin, and read \
             \"Get emergency help\" below.",
        ),
    );
    when(
        &[Response::Sparks, Response::BlueGrey],
        published(
            "Dermatol Surg 2000;26:1057-1059; Cohen PR, Ross EV, 2015",
            "Treatment showed something unusual in your skin. No further laser there before your clinic has talked to you.",
        ),
    );
    items
}

fn expect(seen: &Seen<'_>) -> Vec<Item> {
    let mut items = vec![
        reported(NEWCASTLE, "Redness and swelling for up to 2 days."),
        reported(NEWCASTLE, "Crusts that come off by themselves within 7 to 14 days."),
        reported("clinic pages", "Blisters can come within the first 3 days, even where none was seen today."),
    ];
    if seen.head_or_neck() {
        items.push(reported(
            NEWCASTLE,
            "On the face and neck, too, the treated place itself may swell for up to 2 days. Swelling of the tongue, or of \
             the face away from the treated place, is not expected: see \"Get emergency help\".",
        ));
    }
    if seen.skin() >= FitzpatrickType::IV {
        items.push(published(
            "PubMed 20964571 (2010), skin type V",
            format!(
                "The skin may become lighter or darker where it was treated; with your skin type ({}) that is more \
                 frequent. It may take months to even out.",
                seen.skin()
            ),
        ));
    } else {
        items.push(published(
            "Khunger N et al., 2015",
            "The skin may become lighter or darker where it was treated. It may take months to even out.",
        ));
    }
    items.push(published(
        "J Cosmet Dermatol 2024;23(3):818-823",
        "The ink goes on fading for a long time after a session.",
    ));
    items
}

fn care(seen: &Seen<'_>) -> Vec<Item> {
    let mut items = vec![
        published(LEEDS, "Cool with an ice pack, for 5 minutes in an hour at most."),
        published(LEEDS, "Keep it dry for 2 days. If it gets wet, pat it dry; do not rub."),
        published(LEEDS, "For 2 days no moisturiser, sunscreen or make-up on it."),
        published(LEEDS, "For 7 to 10 days no exercise, swimming, sauna or scented products."),
        reported(
            "clinic pages; Murphy 2021",
            "Leave blisters and crusts alone. Cover with a non-stick dressing if it oozes.",
        ),
        reported(
            "clinic pages; hospital practice differs",
            "Ointment or none: clinics differ. Ask yours which it wants.",
        ),
        published(
            LEEDS,
            "From day 2 on, sunscreen of factor 50 with five-star UVA on the place every day, until 6 months after your last \
             session.",
        ),
    ];
    if seen.cream() {
        items.push(reported(
            "label of the cream, as quoted",
            "You had a numbing cream: the skin may stay numb for 1 to 2 hours after it was taken off.",
        ));
    }
    if seen.injected() {
        items.push(usual("you had a numbing injection. Ask your clinic how long the skin may stay numb."));
    }
    if seen.cream() || seen.injected() {
        items.push(usual("numb skin does not feel heat or cold. Take care with ice until feeling is back."));
    }
    items
}

fn call(seen: &Seen<'_>) -> Vec<Item> {
    let mut items = vec![published(
        LEEDS,
        "Call if swelling lasts longer than 3 days, or you see a blister, scab, crust or weeping. Your clinic wants to know.",
    )];
    if seen.any(&[Response::Blister, Response::Separation, Response::WetSurface, Response::Darkening]) {
        items.push(published(
            "Kirby W et al., 2010 (review visit)",
            "After what was seen today, ask for a visit to have it looked at.",
        ));
    }
    items.push(usual(
        "call the same day for redness that spreads, pus, fever or severe pain. Out of hours, any urgent care.",
    ));
    items
}

fn emergency(seen: &Seen<'_>) -> Vec<Item> {
    let mut items =
        vec![usual("call the emergency number for wheezing or trouble breathing, or swelling of the face or tongue.")];
    if seen.any(&[Response::Wheals, Response::Systemic]) {
        items.push(usual("this matters more for you, after what was seen today. It can also come hours later."));
    }
    items
}

fn next(seen: &Seen<'_>) -> Vec<Item> {
    let mut items = Vec::new();
    if let Some(date) = next_date(seen.record) {
        let provisional =
            if seen.record.state.closed.is_none() { " (not settled: the session is not closed)" } else { "" };
        items.push(record(format!(
            "Not before {date}{provisional}, and only once the skin has healed. Your clinic decides."
        )));
    }
    items.push(published(LEEDS, "Come without a tan: keep the place out of the sun until then."));
    items
}
