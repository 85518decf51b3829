//! Hundreds of drives drawn by chance: what is put in comes back within what is said of it.

mod drives;

use drives::{Reading, Truth, axis, drawn, drawn_levels};
use identify::output_error::fit;
use identify::{Ask, Estimate, Parameter as P};
use numeric::levenberg::Status;
use rayon::prelude::*;

const SIX: [P; 6] =
    [P::Resistance, P::Inductance, P::Constant, P::Inertia, P::CoulombFriction, P::ViscousFriction];

const fn values(truth: &Truth) -> [f64; 6] {
    [truth.resistance, truth.inductance, truth.constant, truth.inertia, truth.coulomb, truth.viscous]
}

#[test]
fn what_is_put_in_comes_back_within_what_is_said() {
    const RUNS: u64 = 250;
    let found: Vec<(Truth, Status, Vec<Estimate>)> = (0..RUNS)
        .into_par_iter()
        .map(|run| {
            let truth = drawn(run);
            let tau = truth.inertia * truth.resistance / (truth.constant * truth.constant);
            // Forty rows in the mechanical time constant, two and a half of them a level.
            let noise = 0.01 * truth.supply / truth.resistance;
            let reading = Reading { rate: 40.0 / tau, noise, counts: 2000.0, seed: run };
            let columns = truth.play(&drawn_levels(run, 4_000, 100, 0.95), false, &reading);
            let records = [columns.record()];
            let found = fit(&axis(&records, noise), &Ask { wanted: &SIX, ..Ask::default() }).unwrap();
            (truth, found.status, found.estimates)
        })
        .collect();
    let (mut held, mut all, mut refused) = ([0usize; 6], 0usize, [0usize; 6]);
    for (run, (truth, status, estimates)) in found.iter().enumerate() {
        assert_eq!(*status, Status::Converged, "run {run}: {truth:?}");
        all += 1;
        for (k, (estimate, want)) in estimates.iter().zip(values(truth)).enumerate() {
            let off = (estimate.value - want).abs();
            held[k] += usize::from(off <= estimate.half_width(0.95));
            refused[k] += usize::from(estimate.refused.is_some());
            assert!(
                off <= 1.5 * estimate.half_width(0.9999),
                "run {run}: {estimate:?} for {want}, {truth:?}"
            );
        }
    }
    println!("{held:?} {refused:?} {all}");
    for (parameter, held) in SIX.iter().zip(held) {
        // 95 % of 250 less four deviations of chance.
        assert!(held >= 223, "{parameter:?}: {held} of {all}");
    }
}
