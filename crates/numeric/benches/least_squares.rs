//! How long a fit takes at the sizes that occur: a datasheet (a dozen figures) and a log (thousands of
//! samples).

use numeric::{Matrix, Noise, levenberg, linear};

/// Shows allocations beside the times: their number must not grow with the size of the problem.
#[global_allocator]
static COUNTED: divan::AllocProfiler = divan::AllocProfiler::system();

fn main() {
    divan::main();
}

/// A line with a quadratic term, and a disturbance that does not repeat.
fn line(rows: usize) -> (Matrix, Vec<f64>) {
    let at = |i: usize| i as f64 / rows as f64;
    let x = Matrix::from_fn(rows, 3, |i, j| libm::pow(at(i), j as f64));
    let y =
        (0..rows).map(|i| 1.0 + 2.0 * at(i) - at(i) * at(i) + 0.01 * libm::sin(37.0 * i as f64)).collect();
    (x, y)
}

#[divan::bench(args = [12, 1_000, 20_000])]
fn linear_three_coefficients(bencher: divan::Bencher, rows: usize) {
    let (x, y) = line(rows);
    bencher.bench_local(|| linear::fit(&x, &y, None, Noise::Estimated));
}

/// First-order rise to a steady value: amplitude, time constant, offset.
fn rise(rows: usize) -> Vec<f64> {
    (0..rows)
        .map(|i| 5.0 + 100.0 * (1.0 - libm::exp(-8.0 * i as f64 / rows as f64)) + libm::sin(37.0 * i as f64))
        .collect()
}

#[divan::bench(args = [12, 1_000, 20_000])]
fn rise_by_differences(bencher: divan::Bencher, rows: usize) {
    let y = rise(rows);
    bencher.bench_local(|| {
        let mut problem = levenberg::Problem::new(rows, |b, r| {
            for (i, (r, y)) in r.iter_mut().zip(&y).enumerate() {
                *r = y - b[0] - b[1] * (1.0 - libm::exp(-(i as f64 / rows as f64) / b[2]));
            }
        });
        problem.solve(&[0.0, 50.0, 0.3], Noise::Estimated, &levenberg::Settings::default())
    });
}

#[divan::bench(args = [12, 1_000, 20_000])]
fn rise_by_jacobian(bencher: divan::Bencher, rows: usize) {
    let y = rise(rows);
    let at = |i: usize| i as f64 / rows as f64;
    bencher.bench_local(|| {
        let mut problem = levenberg::Problem::new(rows, |b, r| {
            for (i, (r, y)) in r.iter_mut().zip(&y).enumerate() {
                *r = y - b[0] - b[1] * (1.0 - libm::exp(-at(i) / b[2]));
            }
        })
        .jacobian(|b, j| {
            for i in 0..rows {
                let decay = libm::exp(-at(i) / b[2]);
                j[(i, 0)] = -1.0;
                j[(i, 1)] = decay - 1.0;
                j[(i, 2)] = b[1] * decay * at(i) / (b[2] * b[2]);
            }
        });
        problem.solve(&[0.0, 50.0, 0.3], Noise::Estimated, &levenberg::Settings::default())
    });
}
