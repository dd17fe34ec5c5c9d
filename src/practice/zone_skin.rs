//! The skin of one zone: its hidden ink, its places, and what a pass has shown.

use super::ground::Ground;
use super::luck::Luck;
use super::model::{self, Drive};
use crate::coverage::{Pattern, Point};
use crate::plan::{PulseClass, Setting, Zone};
use crate::scenario::{HandHabits, Metal, PracticeRun};
use crate::session::{Response, SkinSign};
use crate::units::Wavelength;
use crate::words::{Density, InkColour};
use std::collections::{BTreeMap, VecDeque};
use std::sync::Arc;

/// Depth of the middle of the ink where a case says nothing, cm.
const USUAL_DEPTH_CM: f64 = 0.1;
/// Size of granules where a case says nothing, nm (common practice: tens of nanometres to micrometres).
const USUAL_GRANULE_NM: f64 = 300.0;
/// Pulses over which a sign's grade is judged.
const RECENT: usize = 30;
/// Of the last pulses, so many decide how white the skin looks.
const RECENT_WHITE: usize = 10;

pub(super) struct ZoneSkin {
    pub plan: Zone,
    pub depth_cm: f64,
    pub density: Density,
    inks: Vec<InkColour>,
    pub granule_nm: f64,
    pub metal: Option<Metal>,
    pub setting: Setting,
    pub ground: Ground,
    pub ink_before: f64,
    patterns: Vec<Arc<Pattern>>,
    responses: Vec<(Wavelength, f64)>,
    /// Pulses fired in it so far, in all passes.
    pub fired: u32,
    /// The next place of the pass, with the spot in force.
    place: usize,
    pub incident_over: bool,
    /// Pulses that fell while the handpiece was off its spacer.
    pub off_spacer: u32,
    pub fade_ms: u64,
    pub white_until_ms: Option<u64>,
    pub pass: PassSeen,
    pub wheals: bool,
}

/// What a pass has shown so far.
#[derive(Default)]
pub(super) struct PassSeen {
    pub number: u8,
    pub pulses: u32,
    recent: VecDeque<Seen>,
    pub shown: BTreeMap<Response, u8>,
    pain: Option<(u32, u8)>,
}

/// What one pulse showed.
#[derive(Clone, Copy, Default)]
pub(super) struct Seen {
    pub white: u8,
    pub bled: bool,
    pub splattered: bool,
    pub bruised: bool,
}

/// A sign as one pulse may have shown it.
type Of = fn(&Seen) -> bool;

impl PassSeen {
    pub fn remember(&mut self, seen: Seen) {
        if self.recent.len() >= RECENT {
            self.recent.pop_front();
        }
        self.recent.push_back(seen);
    }
}

impl ZoneSkin {
    pub fn new(plan: &Zone, run: &PracticeRun) -> Self {
        let hidden = run.case.zone(&plan.id);
        let ink_before = run.carried.iter().find(|c| c.zone == plan.id).map_or(1.0, |c| c.ink_left);
        Self {
            ground: Ground::new(&plan.shape.outline(), ink_before),
            ink_before,
            setting: plan.setting,
            depth_cm: hidden.map_or(USUAL_DEPTH_CM, |h| h.ink_depth.mm() / 10.0),
            density: hidden.map_or(plan.density, |h| h.density),
            inks: hidden.map_or_else(|| plan.inks.clone(), |h| h.inks.clone()),
            granule_nm: hidden.map_or(USUAL_GRANULE_NM, |h| h.granule_nm),
            metal: hidden.and_then(|h| h.metal),
            plan: plan.clone(),
            patterns: Vec::new(),
            responses: Vec::new(),
            fired: 0,
            place: 0,
            incident_over: false,
            off_spacer: 0,
            fade_ms: 0,
            white_until_ms: None,
            pass: PassSeen::default(),
            wheals: false,
        }
    }

    /// A pass begins at the first place; how long its whitening will last is drawn.
    pub fn begin(&mut self, pass: u8, luck: &mut Luck) {
        let (normal, _) = luck.normal_pair();
        let [least, most] = model::FADE_ENDS_MIN;
        let minutes = (model::FADE_MIDDLE_MIN * (model::FADE_SPREAD * normal).exp()).clamp(least, most);
        self.fade_ms = (minutes * 60_000.0) as u64;
        self.place = 0;
        let white = self.pass.shown.remove(&Response::Whitening).filter(|_| self.white_until_ms.is_some());
        self.pass = PassSeen { number: pass, ..PassSeen::default() };
        if let Some(grade) = white {
            self.pass.shown.insert(Response::Whitening, grade);
        }
    }

    /// The setting changes: what shows from now on is news again. The hand goes on where it was.
    pub fn change(&mut self, to: Setting) {
        let share = self.place as f64 / self.pattern().pulses() as f64;
        self.setting = to;
        self.place = (share * self.pattern().pulses() as f64).round() as usize;
        self.pass.shown.retain(|kind, _| *kind == Response::Whitening || *kind == Response::OffSpacer);
        self.pass.recent.clear();
    }

    fn pattern(&mut self) -> Arc<Pattern> {
        let spot = self.setting.spot;
        if let Some(known) = self.patterns.iter().find(|p| (p.spot().mm() - spot.mm()).abs() < 1e-9) {
            return Arc::clone(known);
        }
        let new = Arc::new(Pattern::of(self.plan.shape.outline(), spot, self.plan.overlap));
        self.patterns.push(Arc::clone(&new));
        new
    }

    /// Where the next pulse falls: the hand follows the rows, strays, misses a place now and then or stays on it.
    pub fn next_place(&mut self, hand: &HandHabits, luck: &mut Luck) -> Point {
        let pattern = self.pattern();
        let spots = pattern.lattice().map(crate::coverage::Lattice::spots).unwrap_or_default();
        let chance = luck.even();
        let (dx, dy) = luck.normal_pair();
        if chance < hand.miss {
            self.place += 1;
        }
        let stays = chance >= hand.miss && chance < hand.miss + hand.double;
        let middle = self.plan.shape.outline().bounds().centre();
        let at = if spots.is_empty() { middle } else { spots.get(self.place % spots.len()).copied().unwrap_or(middle) };
        if !stays {
            self.place += 1;
        }
        Point::new(at.x_mm + hand.jitter_mm * dx, at.y_mm + hand.jitter_mm * dy)
    }

    /// How strongly the ink answers light of a wavelength.
    pub fn response(&mut self, wavelength: Wavelength) -> f64 {
        if let Some((_, known)) = self.responses.iter().find(|(w, _)| *w == wavelength) {
            return *known;
        }
        let response = model::response_of(&self.inks, wavelength);
        self.responses.push((wavelength, response));
        response
    }

    /// A sign of this zone.
    pub fn sign(&self, kind: Response, grade: u8) -> SkinSign {
        SkinSign { zone: self.plan.id.clone(), pass: self.pass.number.max(1), kind, grade }
    }

    /// What the last pulses look like together, by kind and grade.
    pub fn grades(&self, last: Seen) -> Vec<(Response, u8)> {
        let recent = &self.pass.recent;
        let mut grades = Vec::new();
        let newest = recent.iter().rev().take(RECENT_WHITE);
        let (white, sum) =
            newest.fold((0_u32, 0_u32), |(n, s), p| if p.white > 0 { (n + 1, s + u32::from(p.white)) } else { (n, s) });
        // A place or two may whiten without the skin looking white.
        if white >= 3 || white >= 1 && self.pass.pulses <= 3 {
            let mean = (f64::from(sum) / f64::from(white.max(1))).round();
            grades.push((Response::Whitening, mean as u8));
        }
        let kinds: [(Response, bool, Of); 3] = [
            (Response::PinpointBleeding, last.bled, |s| s.bled),
            (Response::Splatter, last.splattered, |s| s.splattered),
            (Response::Purpura, last.bruised, |s| s.bruised),
        ];
        for (kind, now, of) in kinds {
            if now {
                let share = recent.iter().filter(|s| of(s)).count() as f64 / recent.len().max(10) as f64;
                grades.push((
                    kind,
                    if share >= 0.3 {
                        3
                    } else if share >= 0.12 {
                        2
                    } else {
                        1
                    },
                ));
            }
        }
        grades
    }

    /// What the client says of the pain, now and then.
    pub fn pain(&mut self, drive: &Drive, class: PulseClass, anaesthetised: bool) -> Option<SkinSign> {
        let numbed = if anaesthetised { 0.6 } else { 1.0 };
        let pain = (drive.pain() * model::pain_factor(class) * numbed).round().clamp(0.0, 10.0) as u8;
        let say = match self.pass.pain {
            None => self.pass.pulses >= 5,
            Some((at, said)) => {
                let since = self.pass.pulses.saturating_sub(at);
                since >= model::PAIN_EVERY_PULSES && pain.abs_diff(said) >= 2
            }
        };
        if !say {
            return None;
        }
        self.pass.pain = Some((self.pass.pulses, pain));
        Some(self.sign(Response::Pain, pain))
    }
}
