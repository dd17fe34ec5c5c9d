//! The same seed and the same acts give the same skin, and a run that was cut off is taken up with it.

use super::lab::{book, played, shipped};
use fadewright::practice::debrief::{debrief, play_back};
use fadewright::practice::{Manner, SkinSink};
use fadewright::recorder::MemorySink;
use fadewright::scenario::{SHIPPED, shipped as named};

#[test]
fn a_seed_makes_every_run_repeatable() {
    for name in ["bold-start", "ornament"] {
        let s = named(name).unwrap();
        let [a, b, c] = [5, 5, 6].map(|seed| played(shipped(s, seed), Manner::Sound).sink.into_inner().events);
        // Free texts are salted at random; what happened is the same.
        let words = |events: &[(fadewright::session::Stamp, fadewright::session::Event)]| {
            events.iter().map(|(s, e)| (s.seq, s.mono_ms, fadewright::review::describe(e))).skip(1).collect::<Vec<_>>()
        };
        assert_eq!(words(&a), words(&b), "{name}");
        assert!(words(&a) != words(&c), "{name}: another seed is another skin");
    }
}

#[test]
fn skin_that_is_taken_up_again_is_the_skin_that_was_left() {
    let s = named("repeat-session").unwrap();
    let whole = played(shipped(s, 3), Manner::Sound);
    let fallen = whole.sink.skin().unwrap().fallen().to_vec();
    let outcome = whole.sink.skin().unwrap().outcome();
    let events = whole.sink.into_inner().events;
    let again = SkinSink::resumed(MemorySink::default(), book(), &events);
    assert_eq!(again.skin().unwrap().fallen(), fallen);
    assert_eq!(again.skin().unwrap().outcome(), outcome);
    assert_eq!(play_back(&events, &book()).unwrap().skin.outcome(), outcome);
    // A part of it is the beginning of the whole.
    let half = SkinSink::resumed(MemorySink::default(), book(), &events[..events.len() / 2]);
    let part = half.skin().unwrap().fallen();
    assert!(!part.is_empty() && part.len() < fallen.len());
    assert_eq!(part, &fallen[..part.len()]);
}

#[test]
fn the_map_is_told_where_pulses_truly_fell() {
    use fadewright::recorder::Store;
    let p = played(shipped(named("first-script").unwrap(), 3), Manner::Sound);
    let fallen: Vec<_> = p.sink.skin().unwrap().fallen().iter().map(|f| f.at).collect();
    assert_eq!(p.sink.landed(0, 1).unwrap(), fallen);
    assert!(p.sink.landed(0, 2).unwrap().is_empty());
    assert!(p.sink.into_inner().landed(0, 1).is_none(), "a treatment knows no landing points");
}

#[test]
fn every_scenario_is_debriefed_and_a_treatment_is_not() {
    for s in SHIPPED {
        let p = played(shipped(s, 1), Manner::Sound);
        let harm = p.sink.skin().unwrap().outcome().iter().map(|z| z.harm()).sum::<f64>();
        let mut events = p.sink.into_inner().events;
        let d = debrief(&events, &book()).unwrap();
        assert_eq!((d.kind, d.closed, d.next.len()), ("PRACTICE", true, 3), "{}", s.name);
        assert!((d.harm_points - harm).abs() < 1e-9);
        assert!(d.score.total <= 100 && d.score.parts.iter().all(|p| p.points >= 0.0 && p.points <= p.of));
        let lines = d.lines(80);
        assert!(lines[0].starts_with("PRACTICE"), "{}", lines[0]);
        assert!(lines.iter().all(|l| l.chars().count() <= 80), "{}", s.name);
        for advice in &d.decisions {
            assert!(!advice.physics.is_empty() && !advice.seen.is_empty());
        }
        let json = serde_json::to_value(&d).unwrap();
        for key in ["kind", "scenario", "seed", "zones", "decisions", "score", "next", "clearance_percent"] {
            assert!(json.get(key).is_some(), "{key}");
        }
        if let Some((_, fadewright::session::Event::SessionOpened(o))) = events.first_mut() {
            o.practice = None;
        }
        assert!(debrief(&events, &book()).is_none());
    }
}

#[test]
fn the_heedless_are_told_so() {
    let s = named("bold-start").unwrap();
    let score = |manner| debrief(&played(shipped(s, 2), manner).sink.into_inner().events, &book()).unwrap();
    let (sound, heedless) = (score(Manner::Sound), score(Manner::Heedless));
    assert!(sound.score.total > heedless.score.total + 15, "{} {}", sound.score.total, heedless.score.total);
    assert!(heedless.decisions.iter().any(|d| d.did.starts_with("declined") && !d.sound));
    assert!(
        heedless.next[0].contains("answer each advice") || heedless.next[0].contains("lower"),
        "{:?}",
        heedless.next
    );
    let s = named("two-zone-band").unwrap();
    let hasty = debrief(&played(shipped(s, 2), Manner::Heedless).sink.into_inner().events, &book()).unwrap();
    assert!(hasty.decisions.iter().any(|d| d.what == "pass-on-white"));
    assert!(hasty.zones.iter().any(|z| z.hit_while_white_percent > 30.0));
}

#[test]
fn a_pulse_taken_back_has_fallen_all_the_same() {
    use fadewright::session::{Command, PulseSource, State};
    let s = named("first-script").unwrap();
    let mut taken_back = false;
    let opened = shipped(s, 4);
    let mut operator = fadewright::practice::Operator::new(Manner::Sound);
    let mut events = Vec::new();
    let watch = &mut |state: &State| {
        taken_back |= state.running().is_some_and(|(.., pass)| pass.counted == 10);
        !taken_back
    };
    let played = fadewright::practice::play(
        opened,
        MemorySink::default(),
        &mut operator,
        &book(),
        (super::lab::from(), None),
        watch,
    )
    .unwrap();
    let state = played.state;
    events.extend(played.sink.into_inner().events);
    let now = fadewright::clock::Now { wall: state.last.at, mono_ms: state.last.mono_ms };
    let mut after = state.clone();
    let fire = fadewright::session::decide(&after, Command::Fire { n: 3, source: PulseSource::Typed }, now).unwrap();
    for event in fire {
        let stamp = fadewright::session::Stamp { seq: after.last.seq + 1, ..after.last };
        after.apply(stamp, &event);
        events.push((stamp, event));
    }
    for event in fadewright::session::decide(&after, Command::Undo, now).unwrap() {
        let stamp = fadewright::session::Stamp { seq: after.last.seq + 1, ..after.last };
        after.apply(stamp, &event);
        events.push((stamp, event));
    }
    assert_eq!(after.total_pulses(), 10);
    assert_eq!(after.practice.fired, 13);
    assert_eq!(play_back(&events, &book()).unwrap().skin.fallen().len(), 13);
}
