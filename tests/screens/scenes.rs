//! Each state that a screen can show, reached by keys.

use super::stage::{BLACK, Stage};
use fadewright::limits::{DepthLight, DepthRow, LightRow, LightTable};
use fadewright::physics::depth_dose::{DepthPoint, Dose};
use fadewright::physics::optics::InkDepth;
use fadewright::session::{Command, Earlier, EarlierZone, Response, SessionOutcome};
use fadewright::tui::theme::{Depth, Glyphs, Theme};
use fadewright::units::SpotDiameter;
use ratatui::crossterm::event::KeyCode;

/// A state, how it is reached, and the words that say so without any colour.
pub struct Scene {
    pub name: &'static str,
    plan: &'static str,
    play: fn(Stage) -> Stage,
    pub words: &'static [&'static str],
}

impl Scene {
    pub fn stage(&self) -> Stage {
        (self.play)(Stage::by(self.plan))
    }

    pub fn stage_with(&self, glyphs: Glyphs, depth: Depth) -> Stage {
        (self.play)(Stage::drawn_with(self.plan, glyphs, depth))
    }

    pub fn stage_themed(&self, theme: Theme) -> Stage {
        (self.play)(Stage::themed(self.plan, Glyphs::Unicode, theme))
    }
}

const BAND: &str = "two-zone-band";

const fn scene(name: &'static str, play: fn(Stage) -> Stage, words: &'static [&'static str]) -> Scene {
    Scene { name, plan: BAND, play, words }
}

const fn refused(name: &'static str, play: fn(Stage) -> Stage, words: &'static [&'static str]) -> Scene {
    Scene { name, plan: "refused-gold", play, words }
}

pub const SCENES: &[Scene] = &[
    scene("checks-open", |s| s, &["CHECKS", "[ ]", "9 of 20", "saved"]),
    scene("checks-value-asked", |s| with(s, |s| s.keys("v")), &["value"]),
    scene("checks-why-not", |s| with(s, identity_asked), &["Why not?"]),
    scene("checks-blocked", |s| with(s, blocked), &["BLOCKS", "Answered no: another code"]),
    scene("checks-override-asked", |s| with(s, override_asked), &["Override", "code", "role", "reason"]),
    scene("checks-overridden", |s| with(s, overridden), &["OVERRIDE", "OVERRIDDEN by DR-2 (laser nurse)"]),
    scene("checks-noted", |s| with(s, noted), &["NO, noted"]),
    refused("checks-hard-stop", |s| s, &["REFUSED", "REFUSES", "gold therapy"]),
    scene("settings-open", |s| with(s, Stage::sign_in), &["NOT READ BACK"]),
    scene("settings-field-wrong", |s| with(s, field_wrong), &["SETTINGS"]),
    scene("settings-mismatch", |s| with(s, mismatch), &["DIFFERS", "wanted 0.377 J", "0.9 J"]),
    scene("settings-confirmed", |s| with(s, confirmed), &["READ BACK"]),
    scene("settings-raise-asked", |s| with(s, raise_asked), &["3.1 J/cm2", "why"]),
    scene("checks-time-out", |s| with(s, time_out_open), &["time-out", "eyewear"]),
    scene("checks-eyewear-asked", |s| with(s, eyewear_asked), &["Eyewear worn", "OD 7", "2  Pair B"]),
    scene(
        "checks-eyewear-no-marking",
        |s| with(s, eyewear_no_marking),
        &["brown ones", "no wavelength with an OD or LB"],
    ),
    scene(
        "checks-eyewear-weak",
        |s| with(s, eyewear_weak),
        &["REFUSES", "DOES NOT PROTECT. Marked OD 5 at 1064 nm, 7 needed."],
    ),
    scene("checks-eyewear-enough", |s| with(s, eyewear_enough), &["x given", "Pair B, near infrared protects."]),
    scene("treat-not-started", |s| with(s, not_started), &["not started"]),
    scene("treat-running", |s| with(s.in_a_pass(), |s| s.pulses(7)), &["running", "7/175"]),
    scene("treat-mid-pass", |s| with(s.in_a_pass(), |s| s.count(80)), &["80/175", "row 6/13"]),
    scene("treat-pass-complete", |s| with(s.in_a_pass(), |s| s.count(175)), &["175/175", "pass complete"]),
    scene(
        "treat-beyond-plan",
        |s| with(s.in_a_pass(), |s| s.count(200)),
        &["200/175", "pass complete, 25 more than planned"],
    ),
    scene("treat-paused", |s| with(s.in_a_pass(), |s| s.keys("  p")), &["PAUSED"]),
    scene("treat-train", |s| with(s.in_a_pass(), train), &["TRAIN RUNNING"]),
    scene("treat-white", |s| with(s.in_a_pass(), white), &["WHITE 2"]),
    scene("treat-faded", |s| with(s.in_a_pass(), faded), &["faded"]),
    scene("treat-advice-lower", |s| with(s.in_a_pass(), bleeding), &["!! LOWER", "from 3 J/cm2 at 4 mm to 2.7"]),
    scene(
        "treat-advice-larger-spot",
        |s| with(s.in_a_pass(), larger_spot),
        &["!! LOWER", "l takes", "l larger spot", "epidermis -"],
    ),
    scene("treat-advice-many", |s| with(s.in_a_pass(), many), &["!!! STOP", "and 2 more"]),
    scene("treat-bell-off", |s| with(s.in_a_pass(), |s| s.keys("s")), &["bell off"]),
    scene("ask-swelling", |s| with(s.in_a_pass(), |s| s.keys("  rs")), &["Swelling", "3 marked"]),
    scene("checks-anaesthetic-asked", |s| with(s, anaesthetic_asked), &["one dose", "At most: cream 60 g", "label"]),
    scene(
        "checks-anaesthetic-given",
        |s| with(s, anaesthetic_given),
        &["x given", "cream 10 g on 100 cm2 for 40 min; 17 % of the limit; cream works in 20 min", "Confirm"],
    ),
    scene(
        "checks-anaesthetic-over",
        |s| with(s, anaesthetic_over),
        &["BLOCKS", "Lidocaine: 400 mg, at most 300 mg", "prescriber"],
    ),
    scene("settings-last-time", |s| with(s, last_time), &["last time, 2026-09-29", "Start with 2.7 J/cm2 at 4 mm"]),
    scene("treat-advice-late", |s| with(s.in_a_pass(), late), &["!!! STOP", "pulses since LOWER"]),
    scene("treat-advice-stop", |s| with(s.in_a_pass(), |s| s.keys("  rl")), &["!!! STOP"]),
    scene("treat-advice-check", |s| with(s.in_a_pass(), |s| s.keys("  o")), &["?? CHECK"]),
    scene("treat-advice-wait", |s| with(s.in_a_pass(), too_soon), &["~~ WAIT", "too soon"]),
    scene("treat-waiting", |s| with(s.in_a_pass(), between_passes), &["WAIT", "before the next pass"]),
    scene("treat-stopped", |s| with(s.in_a_pass(), stopped), &["zone stopped"]),
    scene("treat-refused", |s| with(s, gate_shut), &["item(s) of the sign-in are not done"]),
    scene("ask-count", |s| with(s.in_a_pass(), |s| s.keys("4")), &["How many pulses"]),
    scene("ask-correction", |s| with(s.in_a_pass(), |s| s.keys("  k")), &["The last entry counted 1"]),
    scene("ask-grade", |s| with(s.in_a_pass(), |s| s.keys("  w")), &["1 faint", "3 fierce"]),
    scene("ask-response", |s| with(s.in_a_pass(), |s| s.keys("  r")), &["What does the skin show?", "darkening"]),
    scene("ask-pain", |s| with(s.in_a_pass(), |s| s.keys("v")), &["Pain", "10 the worst"]),
    scene("ask-counter", |s| with(s.in_a_pass(), |s| s.keys("  c")), &["Last reading 120000, counted 2"]),
    scene("ask-counter-lower", |s| with(s.in_a_pass(), counter_lower), &["is lower than the reading before"]),
    scene("ask-difference", |s| with(s.in_a_pass(), difference), &["counted 2, device 9"]),
    scene("ask-decline", |s| with(s.in_a_pass(), decline), &["Decline: why?"]),
    scene("ask-leave", |s| with(s.in_a_pass(), |s| s.keys("q")), &["Leave?", "can be resumed"]),
    scene("help-checks", |s| with(s, |s| s.keys("?")), &["Keys on this screen"]),
    scene(
        "help-settings",
        |s| {
            with(s, |s| {
                s.sign_in();
                s.press(KeyCode::Esc);
                s.keys("?");
            })
        },
        &["Keys on this screen", "Pulses wait until both agree"],
    ),
    scene(
        "help-close",
        |s| {
            with(s.in_a_pass(), |s| {
                close_open(s);
                s.keys("?");
            })
        },
        &["Keys on this screen", "Closing is for good"],
    ),
    scene("help-treat", |s| with(s.in_a_pass(), |s| s.keys("?")), &["Keys on this screen", "Count one pulse"]),
    scene("not-saved", |s| with(s.in_a_pass(), not_saved), &["NOT SAVED since 10:0", "NOT SAVED: ", "F9"]),
    scene("ask-save-elsewhere", |s| with(s.in_a_pass(), save_elsewhere), &["NOT SAVED", "directory"]),
    scene("close-open", |s| with(s.in_a_pass(), close_open), &["OPEN: 1 of 2 passes", "not answered"]),
    scene("ask-outcome", |s| with(s.in_a_pass(), outcome_asked), &["How did it end?", "(fits)"]),
    scene("ask-close-for-good", |s| with(s.in_a_pass(), sure), &["Close for good?"]),
    scene("close-closed", |s| with(s.in_a_pass(), closed), &["SESSION CLOSED", "declined", "2027-01-05"]),
    scene("pictures-following", |s| with(s.in_a_pass(), pictures(0)), &["1/4 light in depth", "following light"]),
    scene(
        "pictures-depth",
        |s| with(s.in_a_pass(), lit_pictures(0)),
        &["1/4 light in depth", "0/175", "basal", "most ink", "in force", "Mid-ink, 1 mm"],
    ),
    scene(
        "pictures-depth-advised",
        |s| with(s.in_a_pass(), advised_picture),
        &["LOWER: Lower", "9/175", "advised 2.7 J/cm2 at 4 mm", "basal layer"],
    ),
    scene(
        "pictures-confinement",
        |s| with(s.in_a_pass(), pictures(1)),
        &["2/4 confinement", "pulse 6 ns", "thermally confined in granules above 145 nm", "stress confined above 9 um"],
    ),
    scene(
        "pictures-session",
        |s| with(s.in_a_pass(), session_picture),
        &["3/4 session", "STOP", "pulses in", "skin: w whitening, b bleeding", "advice:", "p pause"],
    ),
    scene("pictures-zone", |s| with(s.in_a_pass(), zone_picture), &["4/4 zone", "30/175", "from above"]),
    scene(
        "help-pictures",
        |s| {
            with(s.in_a_pass(), |s| {
                pictures(0)(s);
                s.keys("?");
            })
        },
        &["Keys on this screen", "Next picture"],
    ),
    refused("close-refused", |s| with(s, closed_as_refused), &["SESSION CLOSED", "refused-by-checks"]),
];

fn with(mut stage: Stage, play: impl FnOnce(&mut Stage)) -> Stage {
    play(&mut stage);
    stage
}

fn identity_asked(s: &mut Stage) {
    s.keys("jn");
}

fn blocked(s: &mut Stage) {
    identity_asked(s);
    s.fill("another code on the consent");
    // An answer goes on to the next open item.
    while !s.draw(80, 24).lines().any(|l| l.trim_start().starts_with('>') && l.contains("BLOCKS")) {
        s.press(KeyCode::Up);
    }
}

fn override_asked(s: &mut Stage) {
    blocked(s);
    s.keys("o");
}

fn overridden(s: &mut Stage) {
    override_asked(s);
    s.fill("DR-2");
    s.fill("laser nurse");
    s.fill("consent signed again today");
    while !s.draw(80, 24).lines().any(|l| l.trim_start().starts_with('>') && l.contains("OVERRIDE")) {
        s.press(KeyCode::Up);
    }
}

fn noted(s: &mut Stage) {
    s.keys("jjjjjjjn");
    s.fill("a small pale patch");
}

fn field_wrong(s: &mut Stage) {
    s.sign_in();
    s.fill("1064");
    s.fill("6");
    s.fill("-4");
}

fn mismatch(s: &mut Stage) {
    s.sign_in();
    let mut shown = BLACK;
    shown[4] = "0.9";
    s.read_back(shown);
}

fn confirmed(s: &mut Stage) {
    s.sign_in();
    s.read_back(BLACK);
    s.press(KeyCode::F(3));
}

fn raise_asked(s: &mut Stage) {
    confirmed(s);
    s.keys("+");
}

fn time_out_open(s: &mut Stage) {
    s.sign_in();
    s.read_back(BLACK);
}

fn eyewear_asked(s: &mut Stage) {
    time_out_open(s);
    s.keys("v");
}

fn eyewear_no_marking(s: &mut Stage) {
    eyewear_asked(s);
    s.fill("the brown ones");
}

fn eyewear_weak(s: &mut Stage) {
    eyewear_asked(s);
    s.fill("OD 5+ @ 800-1100 nm, VLT 30 %");
}

fn eyewear_enough(s: &mut Stage) {
    eyewear_weak(s);
    s.keys("v");
    s.fill("b");
    s.keys("k");
}

fn not_started(s: &mut Stage) {
    time_out_open(s);
    s.time_out();
}

fn train(s: &mut Stage) {
    s.keys("t");
    s.wait(3);
}

fn white(s: &mut Stage) {
    s.pulses(12);
    s.keys("w2");
    s.wait(65);
}

fn faded(s: &mut Stage) {
    white(s);
    s.keys("f");
}

fn bleeding(s: &mut Stage) {
    s.pulses(9);
    s.keys("b");
}

/// Invented light, in which the lower fluence would bring the ink too little.
fn larger_spot(s: &mut Stage) {
    let opened = &s.chair.state().opened;
    let (site, setting) = (opened.plan.zones[0].site, opened.plan.zones[0].setting);
    let line = opened.device.line(setting.wavelength).unwrap();
    let row = |mm: f64| (0.5 + 0.05 * mm, 1.1 + 0.02 * mm);
    let rows = line.spots.iter().map(|l| {
        let (ink, epidermis) = row(l.spot.mm());
        LightRow { site, wavelength: setting.wavelength, spot: l.spot, ink, epidermis }
    });
    let table = LightTable { rows: rows.collect() };
    s.chair.record(Command::NoteLight { table });
    bleeding(s);
}

fn many(s: &mut Stage) {
    bleeding(s);
    s.keys("roro");
    s.keys("rl");
}

/// The pictures, and so many further.
fn pictures(further: usize) -> impl Fn(&mut Stage) {
    move |s| (0..=further).for_each(|_| s.press(KeyCode::F(8)))
}

fn lit_pictures(further: usize) -> impl Fn(&mut Stage) {
    move |s| {
        s.chair.take_light(depth_light(s));
        pictures(further)(s);
    }
}

fn advised_picture(s: &mut Stage) {
    bleeding(s);
    lit_pictures(0)(s);
}

fn session_picture(s: &mut Stage) {
    s.pulses(40);
    s.keys("w2p");
    s.wait(30);
    s.keys("p");
    s.pulses(20);
    s.keys("b");
    s.pulses(12);
    s.wait(60);
    pictures(2)(s);
}

fn zone_picture(s: &mut Stage) {
    s.count(30);
    pictures(3)(s);
}

/// Invented light that falls off with depth, less so under a larger spot.
fn depth_light(s: &Stage) -> DepthLight {
    let opened = &s.chair.state().opened;
    let zone = &opened.plan.zones[0];
    let line = opened.device.line(zone.setting.wavelength).unwrap();
    let row = |spot: SpotDiameter| {
        let dose = |cm: f64| {
            let nominal = (2.2 + 0.1 * spot.mm()) * (-cm / (0.08 + 0.01 * spot.mm())).exp();
            Dose { low: 0.6 * nominal, nominal, high: 1.2 * nominal, standard_error: 0.01 * nominal }
        };
        let depths = [0.0, 0.00375, 0.0075, 0.025, 0.04, 0.05, 0.075, 0.1, 0.125, 0.15, 0.2, 0.3];
        DepthRow {
            site: zone.site,
            wavelength: zone.setting.wavelength,
            spot,
            basal_cm: 0.0075,
            ink: InkDepth { top_cm: 0.04, bulk_top_cm: 0.05, centre_cm: 0.1, bulk_bottom_cm: 0.15, bottom_cm: 0.2 },
            points: depths.iter().map(|cm| DepthPoint { depth_cm: *cm, per_set: dose(*cm) }).collect(),
        }
    };
    DepthLight { rows: line.spots.iter().map(|l| row(l.spot)).collect() }
}

fn to_anaesthetic(s: &mut Stage) {
    s.keys("v");
    s.fill("OP-7");
    s.keys("yyyyyyayy");
}

fn anaesthetic_asked(s: &mut Stage) {
    to_anaesthetic(s);
    s.keys("v");
}

fn anaesthetic_given(s: &mut Stage) {
    anaesthetic_asked(s);
    s.fill("cream 10 g 100 cm2 40 min");
    // The sign-in is done: back to it from the time-out.
    s.press(KeyCode::F(2));
    s.press(KeyCode::Tab);
    s.press(KeyCode::Tab);
    choose(s, "Anaesthetic");
}

fn anaesthetic_over(s: &mut Stage) {
    anaesthetic_asked(s);
    s.fill("lidocaine 400 mg");
}

/// Goes to the item that begins so.
fn choose(s: &mut Stage, item: &str) {
    for _ in 0..40 {
        if s.draw(80, 24).lines().any(|l| l.trim_start().starts_with('>') && l.contains(item)) {
            return;
        }
        s.press(KeyCode::Down);
    }
    panic!("no item {item}: {}", s.draw(80, 24));
}

fn last_time(s: &mut Stage) {
    let plan = &s.chair.state().opened.plan.zones[0];
    let zone = EarlierZone {
        zone: plan.id.clone(),
        setting: plan.setting,
        pulses: 350,
        responses: vec![Response::Whitening, Response::Blister],
    };
    let earlier = Earlier {
        sessions: 1,
        session: "20260929-100000-TTTTTT".to_owned(),
        date: "2026-09-29".parse().unwrap(),
        outcome: Some(SessionOutcome::Completed),
        zones: vec![zone],
    };
    s.chair.record(Command::NoteEarlier { earlier: Box::new(earlier) });
    s.sign_in();
}

fn late(s: &mut Stage) {
    bleeding(s);
    s.pulses(11);
}

fn end_pass(s: &mut Stage, reading: &str) {
    s.keys("e");
    s.fill(reading);
}

fn between_passes(s: &mut Stage) {
    white(s);
    end_pass(s, "120012");
    s.wait(30);
}

fn too_soon(s: &mut Stage) {
    between_passes(s);
    s.keys("n");
}

fn stopped(s: &mut Stage) {
    s.keys("  rlx");
}

fn gate_shut(s: &mut Stage) {
    s.press(KeyCode::F(4));
    s.keys("n");
}

fn counter_lower(s: &mut Stage) {
    s.keys("  c");
    s.fill("119990");
}

fn difference(s: &mut Stage) {
    s.pulses(2);
    end_pass(s, "120009");
    s.keys("k");
}

fn decline(s: &mut Stage) {
    bleeding(s);
    s.keys("d");
}

fn not_saved(s: &mut Stage) {
    s.pulses(5);
    s.break_disk();
    s.pulses(3);
    s.wait(4);
}

fn save_elsewhere(s: &mut Stage) {
    not_saved(s);
    s.press(KeyCode::F(9));
    s.keys("/media/stick");
}

fn close_open(s: &mut Stage) {
    s.pulses(9);
    s.keys("w1b");
    end_pass(s, "120009");
    s.press(KeyCode::F(5));
}

fn before_closing(s: &mut Stage) {
    s.pulses(9);
    s.keys("w1bd");
    s.fill("spacer had slipped, now seated");
    end_pass(s, "120009");
    s.keys("z");
    s.fill("client asked to stop");
    s.keys("]z");
    s.fill("next visit");
    s.press(KeyCode::F(2));
    s.keys("yyyyyyyyy");
}

fn outcome_asked(s: &mut Stage) {
    before_closing(s);
    s.keys("c");
}

fn sure(s: &mut Stage) {
    outcome_asked(s);
    s.keys("t");
}

fn closed(s: &mut Stage) {
    sure(s);
    s.keys("y");
    s.fill("review in two weeks");
    s.wait(10);
}

fn closed_as_refused(s: &mut Stage) {
    s.press(KeyCode::F(5));
    s.keys("cry");
    s.fill("referred");
    s.wait(10);
}
