use super::*;

fn close(a: f64, b: f64) {
    assert!((a - b).abs() <= 1e-9 * b.abs().max(1.0), "{a} against {b}");
}

#[test]
fn measures_follow_the_school_formulas() {
    let r = Outline::rectangle(40.0, 25.0);
    close(r.area_mm2(), 1000.0);
    close(r.perimeter_mm(), 130.0);
    let e = Outline::ellipse(30.0, 20.0);
    close(e.area_mm2(), PI * 150.0);
    let s = Outline::stroke(50.0, 4.0);
    close(s.area_mm2(), 46.0 * 4.0 + PI * 4.0);
    close(s.perimeter_mm(), 92.0 + 4.0 * PI);
    close(Outline::stroke(2.0, 4.0).area_mm2(), PI * 4.0);
}

/// Complete elliptic integral of the second kind: E(m) at m = 0.5 is 1.3506438810476755 (DLMF 19.2.8, value from the
/// Wolfram functions site); and Ramanujan's second formula for a mild ellipse, good to 1e-11 there.
#[test]
fn an_ellipse_is_as_long_as_the_elliptic_integral_says() {
    let b = 0.5f64.sqrt();
    close(Outline::ellipse(2.0, 2.0 * b).perimeter_mm(), 4.0 * 1.350_643_881_047_675_5);
    let (a, b) = (15.0, 10.0);
    let h = f64::powi((a - b) / (a + b), 2);
    let ramanujan = PI * (a + b) * (1.0 + 3.0 * h / (10.0 + (4.0 - 3.0 * h).sqrt()));
    assert!((Outline::ellipse(30.0, 20.0).perimeter_mm() - ramanujan).abs() < 1e-7);
    close(Outline::ellipse(7.0, 7.0).perimeter_mm(), 7.0 * PI);
}

#[test]
fn a_turned_and_moved_outline_keeps_its_measures_and_its_inside() {
    let hole: Vec<Point> = [(1.0, 1.0), (1.0, 2.0), (2.0, 2.0), (2.0, 1.0)].map(|(x, y)| Point::new(x, y)).to_vec();
    let ring: Vec<Point> = [(0.0, 0.0), (5.0, 0.0), (5.0, 4.0), (0.0, 4.0)].map(|(x, y)| Point::new(x, y)).to_vec();
    for outline in [Outline::ellipse(9.0, 4.0), Outline::stroke(9.0, 4.0), Outline::rings(&[ring, hole])] {
        let by = Point::new(1234.5, -77.0);
        let moved = outline.turned_and_moved(0.7, by);
        close(moved.area_mm2(), outline.area_mm2());
        close(moved.perimeter_mm(), outline.perimeter_mm());
        for i in 0..400 {
            let p = Point::new(f64::from(i % 20) * 0.531 - 5.03, f64::from(i / 20) * 0.531 - 5.01);
            assert_eq!(outline.contains(p), moved.contains(p.turned_and_moved(0.7, by)), "{p:?}");
        }
    }
}

#[test]
fn bounds_touch_a_turned_ellipse() {
    let b = Outline::ellipse(10.0, 4.0).turned_and_moved(0.5, Point::ORIGIN).bounds();
    let half = ((5.0 * 0.5f64.cos()).powi(2) + (2.0 * 0.5f64.sin()).powi(2)).sqrt();
    close(b.width_mm(), 2.0 * half);
    let s = Outline::stroke(10.0, 4.0).bounds();
    close(s.width_mm(), 10.0);
    close(s.height_mm(), 4.0);
}

#[test]
fn chords_stay_within_their_stray() {
    for [p, q] in Outline::ellipse(30.0, 20.0).chords(0.01) {
        let m = Point::new(p.x_mm.midpoint(q.x_mm), p.y_mm.midpoint(q.y_mm));
        let level = ((m.x_mm / 15.0).powi(2) + (m.y_mm / 10.0).powi(2)).sqrt();
        assert!((1.0 - level) * 15.0 < 0.0101 && level <= 1.0);
    }
}
