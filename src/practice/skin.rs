//! Skin that answers: it follows the events of a session as real skin would, and tells what it shows.
//!
//! Every pulse that is recorded falls, even one that is taken back later: taking back mends a count, not skin. The same
//! case, seed and acts give the same answers, so a run that was cut off is taken up by letting its events happen again.

use super::ground::{Left, Pulse};
use super::light::{LightBook, PerJoule};
use super::luck::Luck;
use super::model::{self, Drive};
use super::zone_skin::{Seen, ZoneSkin};
use crate::coverage::Point;
use crate::device::DeviceProfile;
use crate::plan::{Medicine, PulseClass, Setting, ZoneId};
use crate::scenario::{PracticeRun, ZoneLeft};
use crate::session::{AdviceAnswer, Event, Opened, Response, SkinSign, Stamp};
use crate::words::{BeamProfile, FitzpatrickType};
use chrono::{DateTime, FixedOffset};
use std::collections::BTreeMap;

/// One pulse as it really fell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fallen {
    /// Zone index.
    pub zone: usize,
    /// Pass.
    pub pass: u8,
    /// Milliseconds since the session opened.
    pub ms: u64,
    /// Where its middle fell.
    pub at: Point,
    /// Spot on the skin, mm.
    pub spot_mm: f64,
    /// What drove it.
    pub drive: Drive,
    /// Share of the spot that was white.
    pub white: f64,
    /// What it left, as it showed.
    pub whitened: u8,
    /// A bleeding point.
    pub bled: bool,
    /// Tissue thrown out.
    pub splattered: bool,
    /// Separation of the epidermis.
    pub separated: bool,
    /// Darkened ink, or gold.
    pub darkened: bool,
    /// True while the handpiece was off its spacer.
    pub off_spacer: bool,
}

/// What a zone's skin is after a session.
#[derive(Debug, Clone, PartialEq)]
pub struct ZoneOutcomeSeen {
    /// The zone.
    pub zone: ZoneId,
    /// Share of the ink that was there before and is freed now, 0 to 1.
    pub cleared: f64,
    /// The same where places that were hurt or turned dark count as not cleared.
    pub cleared_unhurt: f64,
    /// What is left for the next session.
    pub left: ZoneLeft,
    /// Share of the zone that was hit while bubbles hid the ink.
    pub hit_while_white: f64,
    /// Share of the zone whose epidermis separated.
    pub separated: f64,
    /// Share of the zone that bled or threw out tissue.
    pub bled: f64,
    /// Chance that it blisters within days.
    pub blister_chance: f64,
    /// Chance that its pigment changes within weeks.
    pub pigment_chance: f64,
    /// True when it will blister.
    pub blisters: bool,
    /// True when its pigment will change.
    pub pigment_changes: bool,
    /// Highest mean rise of the epidermis at a place, K.
    pub hottest_k: f64,
}

impl ZoneOutcomeSeen {
    /// Points of harm, as [`model::harm`] counts them.
    #[must_use]
    pub fn harm(&self) -> f64 {
        use model::harm::{BLED, BLISTER, PIGMENT, SEPARATED_OR_DARK};
        SEPARATED_OR_DARK * (self.separated + self.left.darkened)
            + PIGMENT * self.pigment_chance
            + BLISTER * self.blister_chance
            + BLED * self.bled
    }
}

/// Simulated skin.
pub struct Skin {
    run: PracticeRun,
    device: DeviceProfile,
    book: LightBook,
    luck: Luck,
    hand: Luck,
    opened_at: Option<DateTime<FixedOffset>>,
    zones: Vec<ZoneSkin>,
    active: Option<usize>,
    fallen: Vec<Fallen>,
    signs: Vec<SkinSign>,
    known_light: BTreeMap<(usize, u64, u64), PerJoule>,
    skin: FitzpatrickType,
    gold: bool,
    anaesthetised: bool,
    pulses: u32,
}

impl Skin {
    /// The skin behind a session that practises; none behind one that treats.
    #[must_use]
    pub fn of(opened: &Opened, book: LightBook) -> Option<Self> {
        let run = (**opened.practice.as_ref()?).clone();
        let zones = opened.plan.zones.iter().map(|z| ZoneSkin::new(z, &run)).collect();
        let gold =
            opened.plan.history.medicines.contains(&Medicine::Gold) || run.case.withheld.contains(&Medicine::Gold);
        let salt = u64::from(run.session) << 32;
        Some(Self {
            luck: Luck::of(run.seed, salt | 1),
            hand: Luck::of(run.seed, salt | 2),
            device: opened.device.clone(),
            book,
            opened_at: None,
            zones,
            active: None,
            fallen: Vec::new(),
            signs: Vec::new(),
            known_light: BTreeMap::new(),
            skin: run.case.true_skin.unwrap_or(opened.plan.client.skin),
            gold,
            anaesthetised: false,
            pulses: 0,
            run,
        })
    }

    /// Every pulse that fell, in order.
    #[must_use]
    pub fn fallen(&self) -> &[Fallen] {
        &self.fallen
    }

    /// Lets an event happen to the skin.
    pub fn follow(&mut self, stamp: Stamp, event: &Event) {
        let opened_at = *self.opened_at.get_or_insert(stamp.at);
        let ms = u64::try_from((stamp.at - opened_at).num_milliseconds()).unwrap_or(0);
        match event {
            Event::PassStarted { zone, pass } => {
                self.active = self.index(zone);
                if let Some(z) = self.active.and_then(|i| self.zones.get_mut(i)) {
                    z.begin(*pass, &mut self.luck);
                }
            }
            Event::PassEnded { .. } => self.active = None,
            Event::PulsesFired { n, .. } => {
                for _ in 0..*n {
                    self.fall(ms);
                }
            }
            Event::SettingChanged { zone, to, .. } => {
                if let Some(z) = self.index(zone).and_then(|i| self.zones.get_mut(i)) {
                    z.change(*to);
                }
            }
            Event::AnaestheticGiven { .. } => self.anaesthetised = true,
            // The handpiece is put back when somebody stops to look, or does what is advised about it.
            Event::Paused | Event::AdviceAnswered { answer: AdviceAnswer::Accepted | AdviceAnswer::Stopped, .. } => {
                for z in &mut self.zones {
                    z.incident_over |= z.off_spacer > 0;
                }
            }
            _ => {}
        }
    }

    /// What the skin shows that it did not show before, at a time.
    pub fn signs(&mut self, at: DateTime<FixedOffset>) -> Vec<SkinSign> {
        let opened_at = *self.opened_at.get_or_insert(at);
        let ms = u64::try_from((at - opened_at).num_milliseconds()).unwrap_or(0);
        for z in &mut self.zones {
            if z.white_until_ms.is_some_and(|until| until <= ms) {
                z.white_until_ms = None;
                z.pass.shown.remove(&Response::Whitening);
                self.signs.push(z.sign(Response::Whitening, 0));
            }
        }
        std::mem::take(&mut self.signs)
    }

    /// What the session leaves, zone by zone.
    #[must_use]
    pub fn outcome(&self) -> Vec<ZoneOutcomeSeen> {
        let salt = u64::from(self.run.session) << 32;
        let one = |(i, z): (usize, &ZoneSkin)| {
            // A stream of its own: what is asked when changes nothing.
            let mut luck = Luck::of(self.run.seed, salt | (100 + i as u64));
            let (blister, pigment) = z.ground.later();
            let (blisters, pigment_changes) = (luck.strikes(blister), luck.strikes(pigment));
            let share = |left: f64| ((z.ink_before - left) / z.ink_before.max(1e-9)).clamp(0.0, 1.0);
            ZoneOutcomeSeen {
                zone: z.plan.id.clone(),
                cleared: share(z.ground.ink_left()),
                cleared_unhurt: share(z.ground.ink_left_or_hurt(z.ink_before)),
                left: ZoneLeft {
                    zone: z.plan.id.clone(),
                    ink_left: z.ground.ink_left(),
                    darkened: z.ground.darkened(),
                    hurt: z.ground.separated(),
                },
                hit_while_white: z.ground.hit_while_white(),
                separated: z.ground.separated(),
                bled: z.ground.bled(),
                blister_chance: blister,
                pigment_chance: pigment,
                blisters: z.fired > 0 && (blisters || z.ground.separated() > 0.0),
                pigment_changes: z.fired > 0 && pigment_changes,
                hottest_k: z.ground.hottest_k(),
            }
        };
        self.zones.iter().enumerate().map(one).collect()
    }

    fn index(&self, id: &ZoneId) -> Option<usize> {
        self.zones.iter().position(|z| z.plan.id == *id)
    }

    /// Light of a spot in a zone, kept for the next pulse.
    fn light(&mut self, zone: usize, setting: &Setting, spot_mm: f64) -> Option<PerJoule> {
        let key = (zone, (setting.wavelength.nm() * 2.0) as u64, (spot_mm * 1000.0) as u64);
        if let Some(known) = self.known_light.get(&key) {
            return Some(*known);
        }
        let z = self.zones.get(zone)?;
        let tissue = self.book.tissue(self.skin, z.plan.site, setting.wavelength)?;
        let light = tissue.per_joule(self.profile(setting), spot_mm, z.depth_cm);
        self.known_light.insert(key, light);
        Some(light)
    }

    fn profile(&self, setting: &Setting) -> BeamProfile {
        self.device.line(setting.wavelength).map_or(BeamProfile::Flat, |l| l.beam_profile)
    }

    fn fall(&mut self, ms: u64) {
        let Some(index) = self.active else { return };
        let Some(setting) = self.zones.get(index).map(|z| z.setting) else { return };
        let case = &self.run.case;
        let (hand, sensitivity, fragility, delivers) =
            (case.hand, case.sensitivity, case.fragility, case.device_delivers);
        let incident =
            case.incidents.iter().find(|i| self.zones.get(index).is_some_and(|z| z.plan.id == i.zone)).cloned();
        let wheals_after = case.wheals_after;
        let Some(z) = self.zones.get_mut(index) else { return };
        let at = z.next_place(&hand, &mut self.hand);
        let off = incident.as_ref().filter(|i| z.fired + 1 >= i.from_pulse && !z.incident_over).map(|i| i.spot_factor);
        let shrink = off.unwrap_or(1.0);
        let spot_mm = setting.spot.mm() * shrink;
        let profile = self.profile(&setting);
        let Some(light) = self.light(index, &setting, spot_mm) else { return };
        let fluence = setting.fluence.j_cm2() * delivers / (shrink * shrink);
        let threshold = model::whitening_threshold_j_cm2(setting.pulse_duration, setting.wavelength);
        let Some(z) = self.zones.get_mut(index) else { return };
        z.fired += 1;
        z.pass.pulses += 1;
        self.pulses += 1;
        let light_over_threshold = fluence * light.ink / threshold;
        let on_skin = Drive {
            ink: light_over_threshold
                * z.response(setting.wavelength)
                * model::density_factor(z.density)
                * model::granule_factor(z.granule_nm),
            basal_j_cm2: fluence * light.basal,
            epidermis_k: fluence * light.rise_k * sensitivity,
            fragility,
            pass: if z.pass.number > 1 { model::LATER_PASS } else { 1.0 },
            vessels: model::vessels(setting.wavelength),
        };
        let pulse = Pulse { centre: at, spot_mm, profile, rise_k: on_skin.epidermis_k, ms };
        let met = z.ground.fall(&pulse, &on_skin);
        let drive =
            Drive { ink: on_skin.ink * met.ink_share * met.inside.sqrt(), epidermis_k: met.epidermis_k, ..on_skin };
        // Each draw is made whatever the others gave, so that one seed tells settings apart and not the order of luck.
        let [white, bleed, splatter, bruise, separate, dark, gold] = std::array::from_fn(|_| self.luck.even());
        let whitened = if white < drive.whitens() { drive.whitening_grade() } else { 0 };
        let bled = bleed < drive.bleeds();
        let splattered = splatter < drive.splatters();
        let bruised = bruise < drive.bruises();
        let separated = separate < drive.separates();
        let metal = z.metal.is_some() && dark < model::darkens(light_over_threshold * met.inside);
        let gold = self.gold && gold < model::GOLD_TURNS;
        let until = (whitened > 0).then(|| ms + z.fade_ms);
        let blood = bled || splattered;
        z.ground.mark(&pulse, Left { white_until_ms: until, blood, separated, darkened: metal || gold });
        z.white_until_ms = z.white_until_ms.max(until);
        self.fallen.push(Fallen {
            zone: index,
            pass: z.pass.number,
            ms,
            at,
            spot_mm,
            drive,
            white: met.white,
            whitened,
            bled,
            splattered,
            separated,
            darkened: metal || gold,
            off_spacer: off.is_some(),
        });
        z.pass.remember(Seen { white: whitened, bled, splattered, bruised });
        let mut show = z.grades(Seen { white: whitened, bled, splattered, bruised });
        if separated {
            show.push((Response::Separation, 2));
        }
        if metal {
            show.push((Response::Darkening, 2));
        }
        if gold {
            show.push((Response::BlueGrey, 2));
        }
        z.off_spacer += u32::from(off.is_some());
        if z.off_spacer == model::OFF_SPACER_UNSEEN {
            show.push((Response::OffSpacer, 1));
        }
        if wheals_after.is_some_and(|n| self.pulses >= n) && !z.wheals {
            z.wheals = true;
            show.push((Response::Wheals, 2));
        }
        let pain = z.pain(&drive, PulseClass::of(setting.pulse_duration), self.anaesthetised);
        for (kind, grade) in show {
            if z.pass.shown.get(&kind).is_none_or(|before| *before < grade) {
                z.pass.shown.insert(kind, grade);
                self.signs.push(z.sign(kind, grade));
            }
        }
        self.signs.extend(pain);
        if z.pass.number == 1 && z.pass.pulses == model::NOTHING_AFTER_PULSES && z.pass.shown.is_empty() {
            z.pass.shown.insert(Response::NoResponse, 1);
            self.signs.push(z.sign(Response::NoResponse, 1));
        }
    }
}
