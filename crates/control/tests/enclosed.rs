//! Proven bounds of margins over a box against loops inside of it.

use control::enclosed::{Effort, Enclosed, FIGURES, Output, Ranges, Span, enclose};
use control::law::{Law, Loop};
use control::margins::Grid;
use control::plant::Figures;
use numeric::spectrum::Complex;
use worked::Stream;

/// Numbers from 0 to 1, one after the other.
struct Drawn(Stream, u64);

impl Drawn {
    fn next(&mut self) -> f64 {
        self.1 += 1;
        self.0.uniform(self.1)
    }

    /// Even in the logarithm.
    fn log(&mut self, low: f64, high: f64) -> f64 {
        low * libm::pow(high / low, self.next())
    }

    fn parts(&mut self) -> [f64; FIGURES] {
        [0.0; FIGURES].map(|_| self.next())
    }
}

/// A drive, from a slow pole far below the rate of the loop to complex poles, and a box around it.
fn drive(drawn: &mut Drawn) -> (Figures, Ranges) {
    let resistance = drawn.log(0.3, 8.0);
    let figures = Figures {
        resistance,
        inductance: resistance * drawn.log(5e-5, 5e-3),
        constant: drawn.log(0.005, 0.1),
        inertia: drawn.log(5e-7, 1e-4),
        viscous_friction: drawn.log(1e-7, 1e-5),
        voltage_factor: 1.0,
    };
    let mut around = |value: f64, most: f64| {
        let (less, more) = (drawn.next() * most, drawn.next() * most);
        Span::new(value * (1.0 - less), value * (1.0 + more))
    };
    let ranges = Ranges([
        around(figures.resistance, 0.4),
        around(figures.inductance, 0.3),
        around(figures.constant, 0.15),
        around(figures.inertia, 0.3),
        around(figures.viscous_friction, 0.9),
        around(1.0, 0.1),
    ]);
    (figures, ranges)
}

/// A PI law by the rule of internal models, tight or loose.
fn law(f: &Figures, drawn: &mut Drawn) -> Law {
    let window = 1 + (drawn.next() * 20.0) as usize;
    let sample_time = drawn.log(2e-4, 4e-3);
    let delay = sample_time * (1.5 + 0.5 * window as f64) + f.inductance / f.resistance;
    let crossover = drawn.log(0.2, 0.8) / delay;
    let time = f.resistance * f.inertia / (f.constant * f.constant + f.resistance * f.viscous_friction);
    Law {
        sample_time,
        gain: f.resistance * f.inertia / f.constant * crossover,
        integral_time: time.min(4.0 / crossover),
        weight: 0.5,
        forward: f.constant,
        window: Some(window),
        position_gain: if drawn.next() < 0.5 { 0.0 } else { crossover * drawn.log(0.05, 0.3) },
    }
}

/// A PI law for the current.
fn current_law(f: &Figures, drawn: &mut Drawn) -> Law {
    let sample_time = f.inductance / f.resistance * drawn.log(0.02, 0.5);
    let crossover = drawn.log(0.1, 0.5) / (1.5 * sample_time);
    Law {
        sample_time,
        gain: crossover * f.inductance,
        integral_time: f.inductance / f.resistance,
        weight: 1.0,
        forward: 0.0,
        window: None,
        position_gain: 0.0,
    }
}

fn beaten(grid: &Grid, of: &Loop, enclosed: &Enclosed) -> Option<String> {
    if enclosed.distance.bound <= 0.0 {
        return None;
    }
    let Some(margins) = grid.margins(of) else { return Some("a loop does not settle".to_owned()) };
    let told = [
        ("gain", margins.gain, enclosed.gain.bound),
        ("phase", margins.phase, enclosed.phase.bound),
        ("delay", margins.delay, enclosed.delay.bound),
        ("distance", 1.0 / margins.sensitivity, enclosed.distance.bound),
    ];
    // Margins at a point are located to a part of 1e-9 or so.
    let worse = told.into_iter().find(|(_, met, bound)| *met < bound * (1.0 - 1e-8));
    worse.map(|(name, met, bound)| format!("{name}: {met} below {bound}"))
}

/// 40 boxes of drives and laws, 250 points in each, half of them at corners: none is below a bound.
#[test]
fn ten_thousand_points_never_pass_a_bound() {
    let (grid, mut drawn) = (Grid::new(), Drawn(Stream::new(7, "boxes"), 0));
    let (mut proven, mut asked, mut tight) = (0, 0, 0);
    for k in 0..40 {
        let (figures, ranges) = drive(&mut drawn);
        let (law, output) = match k % 4 {
            3 => (current_law(&figures, &mut drawn), Output::Current),
            _ => (law(&figures, &mut drawn), Output::Speed),
        };
        let enclosed = enclose(&grid, &law, output, &ranges, Effort::default());
        asked += 1;
        for point in 0..250 {
            let parts = drawn.parts().map(|part| if point % 2 == 0 { f64::from(part > 0.5) } else { part });
            let of = Loop::new(law, &output.plant(&ranges.at(parts)));
            if let Some(told) = beaten(&grid, &of, &enclosed) {
                panic!("box {k}, point {point}: {told}\n{law:?}\n{ranges:?}\n{enclosed:?}");
            }
        }
        proven += usize::from(enclosed.settles());
        let worst = [enclosed.gain, enclosed.phase, enclosed.delay, enclosed.distance];
        tight += usize::from(worst.iter().all(|worst| worst.bound >= 0.9 * worst.met));
    }
    // Bounds of nothing would pass as well.
    println!("{proven} of {asked} proven, {tight} tight");
    assert!(proven >= 30 && tight >= 25, "{proven} of {asked} proven, {tight} tight");
}

/// The bound of one single point is the margin there.
#[test]
fn a_box_without_a_width_has_the_margins_of_its_point() {
    let (grid, mut drawn) = (Grid::new(), Drawn(Stream::new(3, "points"), 0));
    let effort = Effort { gap: 1e-3, cells: 100_000 };
    let mut seen = 0;
    for _ in 0..20 {
        let (figures, _) = drive(&mut drawn);
        let law = law(&figures, &mut drawn);
        let Some(due) = grid.margins(&Loop::new(law, &figures.speed())) else { continue };
        seen += 1;
        let enclosed = enclose(&grid, &law, Output::Speed, &Ranges::point(&figures), effort);
        let pairs = [
            (enclosed.gain.bound, due.gain),
            (enclosed.phase.bound, due.phase),
            (enclosed.delay.bound, due.delay),
            (enclosed.distance.bound, 1.0 / due.sensitivity),
        ];
        for (bound, due) in pairs {
            assert!(bound <= due * (1.0 + 1e-9) && bound >= due * (1.0 - 2e-3), "{bound} for {due}: {law:?}");
        }
    }
    assert!(seen >= 15, "{seen} of 20 settle");
}

/// A box that holds a loop that does not settle is not called safe.
#[test]
fn a_box_with_a_loop_that_swings_up_is_not_proven() {
    let (grid, mut drawn) = (Grid::new(), Drawn(Stream::new(5, "swings"), 0));
    let mut seen = 0;
    for _ in 0..30 {
        let (figures, ranges) = drive(&mut drawn);
        let law = law(&figures, &mut drawn);
        let law = Law { gain: 5.0 * law.gain, ..law };
        let swings = (0..64).any(|bits| !Loop::new(law, &ranges.corner(bits).speed()).is_stable());
        if swings {
            seen += 1;
            let enclosed = enclose(&grid, &law, Output::Speed, &ranges, Effort::default());
            assert!(!enclosed.settles() && enclosed.gain.bound == 0.0, "{enclosed:?}");
        }
    }
    assert!(seen >= 10, "{seen} of 30 swing up");
}

/// The sum over the images of the sampling and the difference equation are the same response: D(w) against
/// `Σ G(s_k)·((1 − w)/(s_k·T_s))^q` over 20,000 images.
#[test]
fn the_pulse_response_is_the_sum_over_its_images() {
    let mut drawn = Drawn(Stream::new(11, "images"), 0);
    for k in 0..20 {
        let (figures, _) = drive(&mut drawn);
        let plant = if k % 2 == 0 { figures.speed() } else { figures.current() };
        let law = Law { window: (k % 3 > 0).then_some(1), ..law(&figures, &mut drawn) };
        let of = Loop::new(law, &plant);
        let angle = drawn.log(1e-3, 3.1);
        let w = Complex::turned(-angle);
        let held = Complex::new(1.0, 0.0).minus(w);
        let mut sum = Complex::default();
        for image in -20_000..=20_000 {
            let shifted = angle + std::f64::consts::TAU * f64::from(image);
            let factor = held.over(Complex::new(0.0, shifted));
            let term = plant.response(shifted / law.sample_time).times(factor);
            sum = sum.plus(if law.window.is_some() { term.times(factor) } else { term });
        }
        let told = of.pulse.at(w);
        let off = told.minus(sum).magnitude() / sum.magnitude();
        assert!(off < 2e-4 * (1.0 + angle), "{off} at {angle}: {told:?} for {sum:?}");
    }
}
