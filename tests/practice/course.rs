//! Several sessions of one simulated client.

use super::lab::{book, from, shipped};
use fadewright::practice::{Manner, Operator, next_session, play};
use fadewright::recorder::MemorySink;
use fadewright::scenario::shipped as named;
use fadewright::session::{Earlier, Opened, State};

fn course(name: &str, seed: u64) -> Vec<State> {
    let mut opened: Opened = shipped(named(name).unwrap(), seed);
    let mut at = from();
    let mut earlier = None;
    let mut states: Vec<State> = Vec::new();
    loop {
        let mut operator = Operator::new(Manner::Sound);
        let played =
            play(opened.clone(), MemorySink::default(), &mut operator, &book(), (at, earlier), &mut |_| true).unwrap();
        let state = played.state;
        let next = next_session(&state);
        let told = Earlier::of(states.len() as u32 + 1, &state.opened.session, &state);
        states.push(state);
        let Some(next) = next else { return states };
        at = from() + (next.date - from().date_naive());
        opened = Opened { plan: next.plan, practice: Some(Box::new(next.run)), date: next.date, ..opened };
        earlier = Some(told);
    }
}

#[test]
fn ink_fades_from_session_to_session_and_intervals_are_kept() {
    let states = course("first-script", 1);
    assert_eq!(states.len(), 5);
    let left: Vec<f64> = states.iter().map(|s| s.practice.left.as_ref().unwrap()[0].ink_left).collect();
    assert!(left.windows(2).all(|w| w[1] < w[0]), "{left:?}");
    assert!(left[4] < 0.5 && left[4] > 0.05, "{left:?}");
    for pair in states.windows(2) {
        assert_eq!((pair[1].opened.date - pair[0].opened.date).num_weeks(), 8);
        assert_eq!(pair[1].opened.plan.history.last_session, Some(pair[0].opened.date));
        // The interval check of the protocol is content.
        let (verdict, text) = pair[1].checks["interval"].computed.clone().unwrap();
        assert!(verdict <= fadewright::session::Verdict::Warn, "{text}");
    }
}

#[test]
fn dense_ink_is_lowered_first_and_raised_as_it_thins() {
    let mut raised = 0;
    let mut lowered = 0;
    for seed in 0..4 {
        let states = course("cover-up", seed);
        let start = states[0].opened.plan.zones[0].setting.fluence.j_cm2();
        lowered += usize::from(states[0].zones[0].target.fluence.j_cm2() < start);
        let ends: Vec<f64> = states.iter().map(|s| s.zones[0].target.fluence.j_cm2()).collect();
        let least = ends.iter().copied().fold(f64::INFINITY, f64::min);
        raised += usize::from(ends.last().is_some_and(|last| *last > least));
        for s in &states {
            let z = &s.zones[0];
            let o = &s.opened;
            assert!(
                fadewright::limits::setting_problems(&z.target, o.plan.client.skin, &o.device, &o.protocol).is_empty()
            );
        }
    }
    assert!(lowered >= 2 && raised >= 2, "lowered {lowered}, raised {raised} of 4");
}

#[test]
fn an_open_session_has_no_next_one() {
    let opened = shipped(named("first-script").unwrap(), 1);
    let mut operator = Operator::new(Manner::Sound);
    let mut steps = 0;
    let played = play(opened, MemorySink::default(), &mut operator, &book(), (from(), None), &mut |_| {
        steps += 1;
        steps < 40
    })
    .unwrap();
    assert!(played.state.closed.is_none() && next_session(&played.state).is_none());
}
