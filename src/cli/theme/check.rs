//! `theme check`.

use super::super::calc::given::word;
use super::super::output::{CliError, answer};
use super::find;
use crate::sight::{Display, Filter, Srgb, Tint, View};
use crate::source::read_file;
use crate::text::{shown, wrapped};
use crate::tui::theme::{
    BUILT_IN, Depth, FALLBACK_MAIN, Judged, Limit, Role, ThemeFile, best_dim, is_main, judge, judge_at,
};
use crate::words::Word;
use clap::Args;
use serde::Serialize;
use std::path::Path;
use std::process::ExitCode;

/// The long help.
pub(super) const ABOUT: &str = "\
Check whether a theme can be read through laser eyewear.

For each role: how bright its text and its ground are behind the eyewear, their contrast through it and without it, \
and whether it is what is asked: 7 to 1 for the main text and the levels of advice (and 3 to 1 for an eye that has not \
adapted to the eyewear), 4.5 to 1 for the rest. Without a name all shipped themes are checked, each through the \
eyewear it is made for.

Displays and the shipped eyewear are models. Give your eyewear's own curve as a file, which the README \
describes. The terminal's own colours cannot be judged. What is left of a theme in 256 and in 16 colours is told with \
xterm's palette, and misses there do not fail the check: whoever sets up a terminal chooses the 16. Nothing here \
says what eyewear protects from.";

/// Eyewear that leaves less daylight than this share asks for more light in the room (EN 207's information for users,
/// as eyewear makers' guidance repeats it).
const DARK_VLT: f64 = 0.2;

const COLUMNS: usize = 80;

/// What `theme check` is asked.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// A shipped theme or a file [default: all shipped themes].
    #[arg(value_name = "NAME|FILE")]
    name: Option<String>,
    /// Eyewear: orange, green-blue, blue-green, grey, brown, magenta, red, clear or a file [default: what the theme is made for, else clear].
    #[arg(long, value_name = "NAME|FILE")]
    eyewear: Option<String>,
    /// Model of the screen: srgb or led [default: both].
    #[arg(long, value_name = "DISPLAY", value_parser = word::<Display>())]
    display: Option<Display>,
    /// Print JSON; every key names its unit.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Serialize)]
struct Report {
    themes: Vec<ThemeReport>,
    /// False when a role of any theme misses what is asked.
    kept: bool,
}

#[derive(Debug, Serialize)]
struct ThemeReport {
    theme: String,
    made_for: Option<Tint>,
    eyewear: String,
    eyewear_about: String,
    /// Visible light transmission, 0 to 1.
    eyewear_vlt_share: f64,
    display: Display,
    roles: Vec<RoleReport>,
    not_judged: Vec<NotJudged>,
    /// What is left in 256 and in 16 colours.
    fallbacks: Vec<Fallback>,
    /// White on black for an eye that has not adapted: no theme can give more.
    best_dim_ratio: f64,
    /// None when nothing could be judged.
    kept: Option<bool>,
}

#[derive(Debug, Serialize)]
struct RoleReport {
    role: Role,
    text_srgb: String,
    ground_srgb: String,
    /// Of the screen's white without eyewear.
    text_luminance_share: f64,
    ground_luminance_share: f64,
    contrast_adapted_ratio: f64,
    contrast_dim_ratio: f64,
    contrast_without_ratio: f64,
    limit_adapted_ratio: f64,
    limit_dim_ratio: Option<f64>,
    kept: bool,
}

/// A theme in fewer colours. No limit here fails the check.
#[derive(Debug, Serialize)]
struct Fallback {
    colours: u16,
    palette: &'static str,
    /// Asked of the main text.
    limit_main_ratio: f64,
    roles: Vec<FallbackRole>,
}

#[derive(Debug, Serialize)]
struct FallbackRole {
    role: Role,
    text_srgb: String,
    ground_srgb: String,
    contrast_adapted_ratio: f64,
    main: bool,
    kept: bool,
}

#[derive(Debug, Serialize)]
struct NotJudged {
    role: Role,
    why: &'static str,
}

pub(super) fn run(args: &CheckArgs) -> Result<ExitCode, CliError> {
    let themes = match &args.name {
        Some(name) => vec![find(name)?],
        None => {
            let shipped = BUILT_IN.iter().filter_map(|(name, _)| ThemeFile::built_in(name));
            shipped.chain(super::choice::own()?).collect()
        }
    };
    let given = args.eyewear.as_deref().map(eyewear).transpose()?;
    let displays = args.display.map_or_else(|| Display::ALL.to_vec(), |display| vec![display]);
    let mut reports = Vec::new();
    for theme in &themes {
        let filter = match &given {
            Some(filter) => filter.clone(),
            None => Filter::shipped(theme.made_for().unwrap_or(Tint::Clear))?,
        };
        reports.extend(displays.iter().map(|display| report(theme, &filter, *display)));
    }
    let kept = reports.iter().all(|r| r.kept != Some(false));
    let report = Report { themes: reports, kept };
    answer(&report, args.json, |r| in_words(r, args.name.is_some()))?;
    Ok(if report.kept { ExitCode::SUCCESS } else { ExitCode::from(1) })
}

fn eyewear(wanted: &str) -> Result<Filter, CliError> {
    if let Some(tint) = Tint::from_word(wanted) {
        return Ok(Filter::shipped(tint)?);
    }
    let path = Path::new(wanted);
    if !path.is_file() {
        let names = Tint::WORDS.join(", ");
        return Err(CliError::Bad(format!("no eyewear '{}'; shipped: {names}; or name a file", shown(wanted))));
    }
    Ok(Filter::load(&read_file(path)?)?)
}

fn report(theme: &ThemeFile, filter: &Filter, display: Display) -> ThemeReport {
    let (through, without) = (View::new(filter, display), View::new(&Filter::none(), display));
    let (mut roles, mut not_judged) = (Vec::new(), Vec::new());
    for (role, judged) in judge(theme, &through, &without) {
        match judged {
            Judged::Not(why) => not_judged.push(NotJudged { role, why }),
            Judged::Contrast(c) => roles.push(RoleReport {
                role,
                text_srgb: digits(c.text),
                ground_srgb: digits(c.ground),
                text_luminance_share: c.text_luminance,
                ground_luminance_share: c.ground_luminance,
                contrast_adapted_ratio: c.through.adapted,
                contrast_dim_ratio: c.through.dim,
                contrast_without_ratio: c.without,
                limit_adapted_ratio: c.limit.adapted,
                limit_dim_ratio: c.limit.dim,
                kept: c.is_kept(),
            }),
        }
    }
    ThemeReport {
        theme: theme.name.clone(),
        made_for: theme.made_for(),
        eyewear: filter.name().to_owned(),
        eyewear_about: filter.about().to_owned(),
        eyewear_vlt_share: filter.vlt(),
        display,
        fallbacks: [(Depth::Indexed, 256, Limit::of(Role::Ink).adapted), (Depth::Sixteen, 16, FALLBACK_MAIN)]
            .map(|(depth, colours, limit)| fallback(theme, depth, colours, limit, &through, &without))
            .into(),
        best_dim_ratio: best_dim(&through),
        kept: (!roles.is_empty()).then(|| roles.iter().all(|r| r.kept)),
        roles,
        not_judged,
    }
}

fn fallback(theme: &ThemeFile, depth: Depth, colours: u16, limit: f64, through: &View, without: &View) -> Fallback {
    let roles = judge_at(theme, depth, through, without).into_iter().filter_map(|(role, judged)| match judged {
        Judged::Not(_) => None,
        Judged::Contrast(c) => Some(FallbackRole {
            role,
            text_srgb: digits(c.text),
            ground_srgb: digits(c.ground),
            contrast_adapted_ratio: c.through.adapted,
            main: is_main(role),
            kept: !is_main(role) || c.through.adapted >= limit,
        }),
    });
    Fallback { colours, palette: "xterm", limit_main_ratio: limit, roles: roles.collect() }
}

fn digits(Srgb([r, g, b]): Srgb) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// A ratio or a share cut, not rounded, so that what misses its limit never shows as the limit.
fn cut(value: f64, decimals: i32) -> String {
    let scale = 10f64.powi(decimals);
    format!("{:.*}", usize::try_from(decimals).unwrap_or(0), (value * scale).floor() / scale)
}

fn in_words(report: &Report, whole: bool) -> String {
    let mut out = if whole { String::new() } else { summary_head() };
    for r in &report.themes {
        out += &if whole { table(r) } else { summary(r) };
    }
    if !whole {
        out.push('\n');
    }
    out += if report.kept { "" } else { "Missed: text that may not be seen through this eyewear.\n" };
    let dark: Vec<&str> = report.themes.iter().filter(|r| is_too_dark(r)).map(|r| &*r.eyewear).collect();
    if !whole && let Some(eyewear) = dark.first() {
        let text = format!("(1) Through {eyewear} not even white on black keeps 3: it is not asked of a theme.");
        out += &(wrapped(&text, COLUMNS).join("\n") + "\n");
    }
    out += "Screens and shipped eyewear are models; the eyewear's data sheet comes first.\n\
            256 and 16 colours are reckoned with xterm's palette; yours may differ.\n";
    out
}

/// Where an eye that has not adapted is asked too much by any theme.
fn is_too_dark(r: &ThemeReport) -> bool {
    r.best_dim_ratio < Limit::of(Role::Ink).dim.unwrap_or_default()
}

/// The least contrast of main or other text in fewer colours.
fn least_left(fallback: &Fallback, main: bool) -> String {
    let of = fallback.roles.iter().filter(|r| r.main == main).map(|r| r.contrast_adapted_ratio);
    let least = of.fold(f64::INFINITY, f64::min);
    if least.is_finite() { cut(least, 1) } else { "-".to_owned() }
}

fn least(roles: &[RoleReport], main: bool, of: impl Fn(&RoleReport) -> f64) -> String {
    let least = roles.iter().filter(|r| is_main(r.role) == main).map(of).fold(f64::INFINITY, f64::min);
    if least.is_finite() { cut(least, 1) } else { "-".to_owned() }
}

fn summary_head() -> String {
    format!(
        "Smallest contrast of each theme: main text, the same for an eye not adapted\nto the eyewear (dim), the rest, and main text in 256 and in 16 colours\n\n{:<12} {:<11} {:<7} {:>5} {:>5} {:>5} {:>5} {:>5}\n",
        "theme", "eyewear", "screen", "main", "dim", "rest", "256", "16"
    )
}

fn summary(r: &ThemeReport) -> String {
    let lead = format!("{:<12} {:<11} {:<7}", r.theme, r.eyewear, r.display);
    match r.kept {
        None => format!("{lead} {}\n", not_judged_at_all(r)),
        Some(kept) => {
            let adapted = |r: &RoleReport| r.contrast_adapted_ratio;
            let missed = r.roles.iter().filter(|r| !r.kept).map(|r| r.role.word()).collect::<Vec<_>>().join(", ");
            let (main, rest) = (least(&r.roles, true, adapted), least(&r.roles, false, adapted));
            let dim = least(&r.roles, true, |r| r.contrast_dim_ratio);
            let end = match kept {
                true if is_too_dark(r) => "kept (1)".to_owned(),
                true => "kept".to_owned(),
                false => format!("missed: {missed}"),
            };
            let left: String = r.fallbacks.iter().map(|f| format!(" {:>5}", least_left(f, true))).collect();
            format!("{lead} {main:>5} {dim:>5} {rest:>5}{left}  {end}\n")
        }
    }
}

fn not_judged_at_all(r: &ThemeReport) -> String {
    format!("{}: not judged", r.not_judged.first().map_or("no role", |n| n.why))
}

fn table(r: &ThemeReport) -> String {
    let mut out = format!("Theme {} through {}, screen {}\n", r.theme, r.eyewear, r.display);
    let vlt = cut(100.0 * r.eyewear_vlt_share, 0);
    let eyewear = format!("Eyewear: {}; it leaves {vlt} % of daylight.", r.eyewear_about);
    out += &(wrapped(&eyewear, COLUMNS).join("\n") + "\n");
    if r.eyewear_vlt_share < DARK_VLT {
        out += "Under 20 % the room needs more light than usual.\n";
    }
    if is_too_dark(r) {
        let text = format!(
            "An eye that has not adapted sees white on black at {} to 1 at best: no theme can keep 3 to 1, so it is not \
             asked. Make the screen and the room brighter, and give the eyes time.",
            cut(r.best_dim_ratio, 1)
        );
        out += &(wrapped(&text, COLUMNS).join("\n") + "\n");
    }
    out.push('\n');
    if r.kept.is_none() {
        return out + &not_judged_at_all(r) + "\n" + &fallback_lines(r) + "\n";
    }
    out += "          text     ground   luminance, %  contrast                 limit\n\
            role                        text  ground  adapted   dim  without  (dim)\n";
    for role in &r.roles {
        let limit = role.limit_dim_ratio.map_or_else(String::new, |dim| format!(" ({dim})"));
        out += &format!(
            "{:<9} {:<8} {:<8} {:>5} {:>7}  {:>7} {:>5} {:>8}  {:<6} {}\n",
            role.role,
            role.text_srgb,
            role.ground_srgb,
            cut(100.0 * role.text_luminance_share, 1),
            cut(100.0 * role.ground_luminance_share, 1),
            cut(role.contrast_adapted_ratio, 1),
            cut(role.contrast_dim_ratio, 1),
            cut(role.contrast_without_ratio, 1),
            format!("{}{limit}", role.limit_adapted_ratio),
            if role.kept { "kept" } else { "MISSED" }
        );
    }
    for n in &r.not_judged {
        out += &format!("{:<9} not judged: {}\n", n.role, n.why);
    }
    out + &fallback_lines(r) + "\n"
}

/// What is left in fewer colours, a line for each.
fn fallback_lines(r: &ThemeReport) -> String {
    let line = |f: &Fallback| {
        let judged = f.roles.len();
        let own = if judged < Role::ALL.len() { format!(" ({judged} roles judged)") } else { String::new() };
        let missed = f.roles.iter().filter(|r| !r.kept);
        let missed: Vec<String> = missed.map(|r| format!("{} {}", r.role, cut(r.contrast_adapted_ratio, 1))).collect();
        let missed = if missed.is_empty() { String::new() } else { format!("; MISSED: {}", missed.join(", ")) };
        let text = format!(
            "In {} colours, {}'s palette{own}: main text at least {} ({} asked), the rest {}{missed}.",
            f.colours,
            f.palette,
            least_left(f, true),
            f.limit_main_ratio,
            least_left(f, false)
        );
        wrapped(&text, COLUMNS).join("\n") + "\n"
    };
    r.fallbacks.iter().map(line).collect()
}
