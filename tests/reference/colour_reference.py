"""How bright colours of a screen are through each shipped filter, and each filter's VLT; needs colour-science and numpy.
Independent of this program: its 1 nm table of the CIE 1931 2-degree observer, D65 interpolated to 1 nm by the library,
the filters from their formulas at 1 nm and not from the files, sRGB decoded by the library. Made colour.csv with
colour-science 0.4.7: run from the top directory."""
import csv
import colour
import numpy as np

SHAPE = colour.SpectralShape(380, 780, 1)
NM = SHAPE.wavelengths
V = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(SHAPE).values[:, 1]
DAY = colour.SDS_ILLUMINANTS["D65"].copy().align(SHAPE).values
WEIGHTS = (0.2126, 0.7152, 0.0722)

def opens(c, k): return 1/(1 + np.exp(-(NM - c)/k))
def shuts(c, k): return 1/(1 + np.exp((NM - c)/k))
def line(c, fwhm): return np.exp(-4*np.log(2)*((NM - c)/fwhm)**2)

FILTERS = {
    "orange": 0.55*opens(560, 6),
    "green-blue": 0.70*opens(420, 8)*shuts(620, 12),
    "blue-green": 0.70*opens(400, 6)*shuts(590, 9),
    "grey": 0.85*opens(400, 6)*shuts(650, 18),
    "brown": 0.45*opens(568, 5)*shuts(675, 8),
    "magenta": 0.60*(shuts(548, 6) + opens(635, 6)),
    "red": 0.85*opens(625, 5),
    "clear": np.full(len(NM), 0.92),
}
DISPLAYS = {
    "srgb": (line(629.19, 60) + 0.02592*line(450, 50), line(539.12, 78.47), line(456.20, 50) + 0.01962*line(550, 100)),
    "led": (line(610, 50) + 0.35*line(640, 40), line(535, 70), line(450, 20) + 0.08*line(490, 40)),
}
COLOURS = ("#ffffff", "#cccccc", "#767676", "#121212", "#ffff00", "#ffb000", "#ff0000", "#00ff00", "#00ffff", "#ff00ff",
           "#0000ff", "#5f87d7")

with open("tests/against_published/colour.csv", "w", newline="") as f:
    out = csv.writer(f, lineterminator="\n")
    out.writerow(("filter", "display", "colour", "value"))
    for name, tau in FILTERS.items():
        out.writerow((name, "", "vlt", f"{(tau*V*DAY).sum()/(V*DAY).sum():.6f}"))
        for display, channels in DISPLAYS.items():
            left = [(s*tau*V).sum()/(s*V).sum() for s in channels]
            for text in COLOURS:
                drive = colour.models.eotf_sRGB(np.array([int(text[i:i+2], 16) for i in (1, 3, 5)])/255)
                out.writerow((name, display, text, f"{sum(w*t*d for w, t, d in zip(WEIGHTS, left, drive)):.6f}"))
