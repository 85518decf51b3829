//! Cables.

use crate::kind::{q, tables};
use crate::part::About;
use worked::Dimension as D;

tables! {
    /// A cable, for each metre.
    Cable = "cable" {
        flat about: About "name, cautions, mass";
        quantity area (q(D::AREA, "A_w").about(5.0).span(1e-9, 1e-3)) "copper cross-section of one core";
        quantity resistance_per_length (q(D::RESISTANCE_PER_LENGTH, "R'").about(5.0).span(1e-6, 100.0)) "resistance of one core at 20 °C";
        whole cores ("n_w", 1, 200) "number of cores";
        quantity current_rating (q(D::CURRENT, "I_w").span(1e-3, 1e3)) "current that a core carries continuously";
        quantity inductance_per_length (q(D::INDUCTANCE_PER_LENGTH, "L'").about(20.0).span(1e-9, 1e-4).customary(0.7e-6, "0.6 to 0.8 µH/m for a pair")) "inductance of the loop";
        quantity capacitance_per_length (q(D::CAPACITANCE_PER_LENGTH, "C'").about(30.0).span(1e-13, 1e-8).customary(100e-12, "about 100 pF/m for a pair")) "capacitance between neighbouring cores";
        flag shielded "it has a shield";
        flag twisted "its pairs are twisted";
        quantity max_temperature (q(D::TEMPERATURE, "ϑ_w_max").span(293.15, 573.15)) "highest temperature of the insulation";
    }
}
