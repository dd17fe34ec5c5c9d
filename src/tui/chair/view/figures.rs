//! What each screen is for, and where its figures come from: for the help.

use super::super::ScreenName;

/// What the screen is for.
pub(in crate::tui::chair) const fn purpose(screen: ScreenName) -> &'static str {
    match screen {
        ScreenName::Checks => {
            "Checks: sign in, time out before the first pulse, sign out. Yes is always the safe answer. An item that \
             blocks waits until it is answered anew or taken on by someone who may, with code, role and reason; a hard \
             stop nobody overrides."
        }
        ScreenName::Settings => {
            "Settings: set the device as the left column says, then type what it shows. Pulses wait until both agree."
        }
        ScreenName::Treat => {
            "Treat: start a pass, count its pulses, note what the skin shows, answer advice. The most urgent advice stands \
             on top."
        }
        ScreenName::Close => {
            "Close: what was done in each zone and what is still open. Closing is for good; leaving keeps the session open."
        }
        ScreenName::Pictures => {
            "Pictures: light in depth, confinement, the session over time, the zone from above. The pulse key counts on \
             where they were opened from the treat screen, and the line on top keeps the count and the advice; go back to \
             answer it."
        }
    }
}

/// Its figures with their formulas and sources.
pub(in crate::tui::chair) const fn figures(screen: ScreenName) -> &'static [&'static str] {
    match screen {
        ScreenName::Checks => &[
            "\"= fine\" and \"? WARNING\": worked out from the plan, the device, the protocol and today's date",
            "weeks since the last session: days / 7; at least 6 weeks (Bencini PL et al., Arch Dermatol 2012;148:1364)",
            "eyewear: optical density needed = log10(exposure / exposure limit), stricter of IEC 60825-1:2007 and :2014, at the strongest output of the line; EN 207 numbers as marked",
            "anaesthetic: each dose as a share of its own limit, all shares added; limits of the US labels by age and weight, the stricter where sources differ; cream works after an hour",
            "the source of each item stands below it, with how sure it is",
        ],
        ScreenName::Settings => &[
            "energy = fluence x pi x spot^2 / 4; a display's rounding is allowed for by the protocol's energy_tolerance",
            "a change goes by the device's own steps, never above the lowest of its limits: the protocol's ceilings for wavelength, pulse class, skin type and spot, the device's range, its energy, 12 J/cm2 (general range, J Biomed Opt 2012;17(4))",
            "last time: the latest earlier session of this client code in which a pulse was fired; where something was too much, the start lies one step of the protocol below it",
        ],
        ScreenName::Treat => &[
            "planned pulses: a hexagonal lattice fitted to the zone; overlap = 1 - pitch / spot",
            "row 4/11: rows of that lattice, fired to and fro; the arrow is the way of the row at hand, 5 of 12 its pulses",
            "map (from 100 columns and 24 rows): the zone from above with y up, drawn as if the rows were followed; filled spots are fired, dots to come, rings the row at hand, O the next, 2 fired twice. Covered, twice and bare are exact for flat discs on those spots; what the hand truly hit is not known",
            "overlap of a count: as if spread evenly over the zone, its edge reckoned in",
            "pulses per point = count x spot area within the zone / zone area",
            "\"-10 % at ink and epidermis\": at the same spot light is proportional to fluence; for another spot photons were followed through skin of this type and site (nominal values; local fluence at 1 mm and at the basal layer, on the beam's axis)",
            "a larger spot is offered where the lower setting brings the ink less than the protocol's floor (2 J/cm2 with nanosecond, 1 with picosecond pulses: Murphy citing Ross EV 1998)",
            "WHITE 1:05 min: since whitening was noted; bubbles are gone at about 20 min, 9 to 10 under perfluorodecalin (Reddy KK et al., Lasers Surg Med 2013)",
            "a LOWER unanswered for 10 pulses, or 20 s in which pulses go on, becomes STOP: the protocol's numbers",
            "a train counts one pulse at its start and one each period of the rate that was read back",
            "saved = on disk, would survive a power cut",
        ],
        ScreenName::Close => &[
            "pulses: as counted, with what the device's counter says beside it",
            "next session: today and the protocol's interval for the skin type, at the earliest (Bencini PL et al., Arch Dermatol 2012;148:1364: at least 6 weeks; 8 or fewer went with lower success)",
            "saved = on disk, would survive a power cut",
        ],
        ScreenName::Pictures => &[
            "light in depth: local fluence on the axis of the spot, from photons followed through a model of skin of this type and site without ink (Monte Carlo after Wang L, Jacques SL, Zheng L, Comput Methods Programs Biomed 1995;47:131-146), straight between the depths counted; the range spans what is published of skin",
            "most ink, 0.5 to 1.5 mm: where most of it lies; basal: the lowest layer of the epidermis, at the nominal depth of the site",
            "heat leaves in d^2/(27 k), k = 1.3e-7 m2/s (0.984e-7 to 1.5e-7): Anderson RR, Parrish JA, Science 1983;220:524-527; a rule of thumb (Murphy MJ, Torstensson PA, Lasers Med Sci 2014;29:973-978)",
            "sound leaves in d/c, c = 1500 m/s; a shorter pulse builds up stress (Jacques SL, Paltauf G, Oregon Medical Laser Center 2000)",
            "H = sqrt(27 k t), S = c t for a pulse of length t; granules of 40 to 300 nm and clumps of 1 to 4 um are marked (Hogsberg T et al., Br J Dermatol 2011;165:1210; clumps from memory)",
            "session: pulses as counted, by the time they were counted, less what was taken back; a column holds all that fell in its time, of several letters the most urgent",
            "zone: as on the treat screen",
        ],
    }
}
