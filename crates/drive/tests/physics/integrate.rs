//! A plain integrator for independent computations.

/// One step of the classical Runge–Kutta method, order 4.
pub(crate) fn step<const N: usize>(
    x: [f64; N],
    t: f64,
    h: f64,
    f: &impl Fn(f64, [f64; N]) -> [f64; N],
) -> [f64; N] {
    let shift = |x: [f64; N], k: [f64; N], by: f64| std::array::from_fn(|i| x[i] + by * k[i]);
    let k1 = f(t, x);
    let k2 = f(t + h / 2.0, shift(x, k1, h / 2.0));
    let k3 = f(t + h / 2.0, shift(x, k2, h / 2.0));
    let k4 = f(t + h, shift(x, k3, h));
    std::array::from_fn(|i| x[i] + h / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]))
}

/// Runs from `x` at time 0 in steps of `h` until `seen` says to stop; gives the last state and time.
pub(crate) fn run<const N: usize>(
    mut x: [f64; N],
    h: f64,
    f: impl Fn(f64, [f64; N]) -> [f64; N],
    mut seen: impl FnMut(f64, [f64; N]) -> bool,
) -> ([f64; N], f64) {
    let mut steps = 0u64;
    loop {
        let t = steps as f64 * h;
        if !seen(t, x) || steps > 20_000_000 {
            return (x, t);
        }
        x = step(x, t, h, &f);
        steps += 1;
    }
}
