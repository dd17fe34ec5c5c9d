//! Which picture is on screen, and the light that it needs.

use super::{Chair, ScreenName};
use crate::limits::{DepthLight, DepthRow};
use crate::plan::Setting;
use crate::recorder::Store;
use crate::tui::pictures::PictureName;
use crate::tui::pictures::depth::{DepthPicture, Lit};
use crate::words::Word;

/// What the pictures keep.
#[derive(Debug)]
pub(super) struct Pictures {
    /// The one on screen.
    pub(super) shown: PictureName,
    /// The screen that they were opened from.
    pub(super) from: ScreenName,
    /// Light in depth, once it was followed.
    light: Option<DepthLight>,
}

impl Pictures {
    pub(super) const fn new() -> Self {
        Self { shown: PictureName::Depth, from: ScreenName::Treat, light: None }
    }
}

/// What can be said of the light of a setting.
pub(super) enum Light<'a> {
    /// It is still being followed.
    Following,
    /// It was not followed for this line.
    Unknown,
    /// Here it is.
    Known(DepthPicture<'a>),
}

impl<S: Store> Chair<S> {
    /// Takes light in depth that was followed beside the session. It is only drawn, never recorded.
    pub fn take_light(&mut self, light: DepthLight) {
        self.pictures.light = Some(light);
    }

    /// Opens the pictures, or goes on to the next; after the last it goes back.
    pub(super) fn next_picture(&mut self) {
        if self.screen != ScreenName::Pictures {
            self.pictures.from = self.screen;
            self.pictures.shown = PictureName::Depth;
            self.screen = ScreenName::Pictures;
            return;
        }
        let all = PictureName::ALL;
        let at = all.iter().position(|p| *p == self.pictures.shown).unwrap_or(0);
        match all.get(at + 1) {
            Some(next) => self.pictures.shown = *next,
            None => self.leave_pictures(),
        }
    }

    /// The picture before; before the first it goes back.
    pub(super) fn picture_before(&mut self) {
        let all = PictureName::ALL;
        let at = all.iter().position(|p| *p == self.pictures.shown).unwrap_or(0);
        match at.checked_sub(1).and_then(|at| all.get(at)) {
            Some(before) => self.pictures.shown = *before,
            None => self.leave_pictures(),
        }
    }

    pub(super) fn leave_pictures(&mut self) {
        self.screen = self.pictures.from;
    }

    /// True where pulses are counted by key: on the treat screen, and on pictures that were opened from it.
    pub(super) fn takes_pulses(&self) -> bool {
        self.screen == ScreenName::Treat
            || self.screen == ScreenName::Pictures && self.pictures.from == ScreenName::Treat
    }

    /// Another setting to compare with the one in force: what the advice on top offers, its other spot first; else the
    /// plan's, where it was changed.
    fn other_setting(&self) -> Option<(&'static str, Setting)> {
        let (plan, z) = self.state().zone(self.zone)?;
        let advised = self.state().open_advice().into_iter().find_map(|a| {
            let here = a.advice.zone.as_ref() == Some(&plan.id);
            a.advice.alternative.or(a.advice.to).filter(|_| here)
        });
        let other = advised.map(|s| ("advised", s)).or(Some(("planned", plan.setting)));
        other.filter(|(_, s)| s.fluence != z.target.fluence || s.spot != z.target.spot)
    }

    /// The light of the zone's setting, as a picture.
    pub(super) fn depth_picture(&self) -> Light<'_> {
        let Some(light) = &self.pictures.light else { return Light::Following };
        let Some((plan, z)) = self.state().zone(self.zone) else { return Light::Unknown };
        let row = |setting: &Setting| -> Option<&DepthRow> { light.row(plan.site, setting) };
        let Some(now) = row(&z.target) else { return Light::Unknown };
        let other = self.other_setting();
        let other = other.and_then(|(what, setting)| Some((what, Lit { setting, light: row(&setting)? })));
        Light::Known(DepthPicture { now: Lit { setting: z.target, light: now }, other })
    }
}
