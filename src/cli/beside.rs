//! Work beside a session on screen: what earlier sessions of the client tell, and light in the client's skin.

use super::light::skin_light_beside;
use crate::journal::{self, DataDir};
use crate::limits::{DepthLight, LightTable};
use crate::physics::optics::SkinModel;
use crate::plan::ClientCode;
use crate::session::{Command, Earlier, Event, Opened, Stamp, State};
use crate::tui::run::Msg;
use std::fs::File;
use std::io::Read;
use std::path::Path;
use std::time::Duration;

/// The first frame has the machine to itself.
const BEFORE_ANYTHING: Duration = Duration::from_millis(300);
/// And so have the first keys.
const BEFORE_LIGHT: Duration = Duration::from_secs(2);

/// Looks and computes, handing over what it finds, as long as somebody takes it. What cannot be read or computed is
/// left out: the session goes on without it.
pub(super) fn work(dir: &DataDir, opened: &Opened, mut found: impl FnMut(Msg) -> bool) {
    std::thread::sleep(BEFORE_ANYTHING);
    if let Some(earlier) = earlier_of(dir, opened)
        && !found(Msg::Found(Command::NoteEarlier { earlier: Box::new(earlier) }))
    {
        return;
    }
    std::thread::sleep(BEFORE_LIGHT);
    let (table, depths) = light(opened);
    // What is recorded comes first; the other is only drawn.
    if found(Msg::Found(Command::NoteLight { table })) {
        found(Msg::Followed(depths));
    }
}

/// Earlier sessions of the client; in practice only those of the same course, since clients of scenarios come back as new.
fn earlier_of(dir: &DataDir, opened: &Opened) -> Option<Earlier> {
    let course = opened.practice.as_ref().map(|run| run.course.clone());
    let same = |state: &State| match (&course, &state.opened.practice) {
        (None, None) => true,
        (Some(Some(ours)), Some(theirs)) => theirs.course.as_ref() == Some(ours),
        _ => false,
    };
    if course == Some(None) { None } else { find(dir, &opened.plan.client.code, &opened.session, &same) }
}

/// Light for each site and wavelength of the plan. For a line that is only changed to at the chair there is none, and no
/// other spot is proposed there.
fn light(opened: &Opened) -> (LightTable, DepthLight) {
    let (mut table, mut depths) = (LightTable::default(), DepthLight::default());
    let mut done = Vec::new();
    for zone in &opened.plan.zones {
        let (site, wavelength) = (zone.site, zone.setting.wavelength);
        if done.contains(&(site, wavelength)) {
            continue;
        }
        done.push((site, wavelength));
        let Ok(model) = SkinModel::new(wavelength, opened.plan.client.skin, site, None) else { continue };
        let Ok(light) = skin_light_beside(model) else { continue };
        if let Ok(rows) = LightTable::of(site, &light, &opened.device) {
            table.rows.extend(rows.rows);
        }
        if let Ok(rows) = DepthLight::of(site, &light, &opened.device) {
            depths.rows.extend(rows.rows);
        }
    }
    (table, depths)
}

/// What earlier sessions of a client code tell; none where there are none in which a pulse was fired.
pub(super) fn earlier(dir: &DataDir, client: &ClientCode, but: &str) -> Option<Earlier> {
    find(dir, client, but, &|state| state.opened.practice.is_none())
}

fn find(dir: &DataDir, client: &ClientCode, but: &str, fits: &dyn Fn(&State) -> bool) -> Option<Earlier> {
    let mut sessions = 0;
    let mut last = None;
    let listed = dir.list().ok()?;
    for entry in listed.into_iter().filter(|e| e.id.as_str() != but && names(&e.path, client)) {
        let Some(state) = state_of(&entry.path).filter(|s| s.opened.plan.client.code == *client && fits(s)) else {
            continue;
        };
        if state.total_pulses() > 0 {
            sessions += 1;
            last.get_or_insert((entry.id, state));
        }
    }
    last.map(|(id, state)| Earlier::of(sessions, id.as_str(), &state))
}

fn state_of(path: &Path) -> Option<State> {
    let read = journal::read::<Event>(path).ok()?;
    let stamped: Vec<(Stamp, Event)> =
        read.records.into_iter().map(|r| (Stamp { seq: r.seq, at: r.at, mono_ms: r.mono_ms }, r.event)).collect();
    State::replay(stamped.iter().map(|(s, e)| (*s, e)))
}

/// True when the beginning of a journal names the client. Whole journals are read only of these: a clinic has thousands.
fn names(path: &Path, client: &ClientCode) -> bool {
    /// The plan's title comes before the client; neither is long.
    const BEGINNING: u64 = 8 * 1024;
    let beginning = || -> std::io::Result<Vec<u8>> {
        let mut bytes = Vec::new();
        File::open(path)?.take(BEGINNING).read_to_end(&mut bytes)?;
        Ok(bytes)
    };
    let mark = format!("\"code\":\"{client}\"");
    beginning().is_ok_and(|bytes| bytes.windows(mark.len()).any(|w| w == mark.as_bytes()))
}
