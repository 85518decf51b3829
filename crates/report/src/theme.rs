//! Colours and style: one table of colours for light, dark and paper, from which the style sheet and the
//! contrast tests are made.

use std::fmt::Write;

/// A colour by what it is for, as it is in light, in dark and on printed paper.
struct Colour {
    name: &'static str,
    light: &'static str,
    dark: &'static str,
    print: &'static str,
}

const fn colour(name: &'static str, light: &'static str, dark: &'static str, print: &'static str) -> Colour {
    Colour { name, light, dark, print }
}

const COLOURS: [Colour; 23] = [
    colour("paper", "#fcfbf7", "#15181d", "#ffffff"),
    colour("inset", "#f3f1e9", "#1e2329", "#f4f4f4"),
    colour("ink", "#1d2430", "#e7e4da", "#000000"),
    colour("quiet", "#555c67", "#a9afb8", "#3c3c3c"),
    colour("rule", "#c9c5b8", "#3d444d", "#b0b0b0"),
    colour("margin", "#d9b8ae", "#5a4039", "#c8c8c8"),
    colour("link", "#1f4e8c", "#8fb8ee", "#1f3e6c"),
    colour("focus", "#a85300", "#f0b45e", "#a85300"),
    colour("blocker", "#a3201d", "#ff9a8f", "#8a1512"),
    colour("weakness", "#875000", "#f0b45e", "#6b3f00"),
    colour("note", "#2c5d6e", "#86c3d3", "#1f4654"),
    colour("caution", "#fdf0e3", "#33241a", "#ffffff"),
    colour("nominal", "#1f4e8c", "#8fb8ee", "#16407c"),
    colour("bound", "#4c5869", "#aab4c2", "#3a4452"),
    colour("band", "#dde5f0", "#27313f", "#e2e6ec"),
    colour("band-mark", "#6d7f98", "#8593a8", "#66758a"),
    colour("measured", "#1d6b45", "#7fcfa2", "#10502f"),
    colour("limit", "#a3201d", "#ff9a8f", "#8a1512"),
    colour("course", "#6a3a8c", "#cfa8ef", "#54276f"),
    colour("hatch", "#c0625b", "#a8605a", "#9a5a55"),
    colour("grid", "#dcd8cc", "#2c3239", "#d8d8d8"),
    colour("grid-minor", "#eceae2", "#22272d", "#ebebeb"),
    colour("bar", "#5f82b4", "#5f86bd", "#7f93b0"),
];

const PAGE: &str = include_str!("style/page.css");
const DRAWING: &str = include_str!("style/drawing.css");
const PICTURE: &str = include_str!("style/picture.css");
const PRINT: &str = include_str!("style/print.css");

/// The style of a page.
pub(crate) fn page_style() -> String {
    format!("{}{DRAWING}{PICTURE}{PAGE}{PRINT}", colours())
}

/// The style of a drawing that is a file of its own.
pub(crate) fn drawing_style() -> String {
    format!("{}svg{{background:var(--paper);font-family:system-ui,sans-serif}}\n{DRAWING}", colours())
}

/// The style of a picture of the bench that is a file of its own.
pub(crate) fn picture_style() -> String {
    format!("{}svg{{background:var(--paper)}}\n{PICTURE}", colours())
}

fn colours() -> String {
    let list = |of: fn(&Colour) -> &'static str| {
        COLOURS.iter().fold(String::new(), |mut out, c| {
            let _ = write!(out, "--{}:{};", c.name, of(c));
            out
        })
    };
    format!(
        ":root{{color-scheme:light dark;{}}}\n@media (prefers-color-scheme:dark){{:root{{{}}}}}\n\
         @media print{{:root{{color-scheme:light;{}}}}}\n",
        list(|c| c.light),
        list(|c| c.dark),
        list(|c| c.print)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance, as WCAG 2.2 defines it.
    fn luminance(hex: &str) -> f64 {
        let channel = |i: usize| {
            let v = f64::from(u8::from_str_radix(&hex[i..i + 2], 16).unwrap()) / 255.0;
            if v <= 0.04045 { v / 12.92 } else { libm::pow((v + 0.055) / 1.055, 2.4) }
        };
        0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
    }

    fn contrast(a: &str, b: &str) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn contrast_is_computed_as_the_standard_says() {
        // WCAG 2.2: black on white is 21:1. #767676 on white is the well-known 4.54:1 (value from memory).
        assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
        assert!((contrast("#767676", "#ffffff") - 4.54).abs() < 0.005);
    }

    /// Which colours stand on which, and the least contrast: 4.5 for text, 3 for what a drawing needs to be
    /// understood (WCAG 2.2, 1.4.3 and 1.4.11, level AA).
    const PAIRS: [(&str, &[&str], f64); 15] = [
        ("ink", &["paper", "inset", "caution", "band"], 4.5),
        ("quiet", &["paper", "inset"], 4.5),
        ("link", &["paper", "inset"], 4.5),
        ("blocker", &["paper", "inset", "caution"], 4.5),
        ("weakness", &["paper", "inset"], 4.5),
        ("note", &["paper", "inset"], 4.5),
        ("nominal", &["paper", "band"], 4.5),
        ("bound", &["paper", "band"], 4.5),
        ("measured", &["paper", "band"], 4.5),
        ("limit", &["paper", "band"], 4.5),
        ("course", &["paper", "band"], 4.5),
        ("hatch", &["paper"], 3.0),
        ("band-mark", &["paper", "band"], 3.0),
        ("bar", &["paper"], 3.0),
        ("focus", &["paper", "inset"], 3.0),
    ];

    #[test]
    fn every_pair_of_colours_has_the_contrast_it_needs() {
        let find = |name: &str| COLOURS.iter().find(|c| c.name == name).unwrap();
        for (front, backs, least) in PAIRS {
            for back in backs {
                let (f, b) = (find(front), find(back));
                for (scheme, f, b) in
                    [("light", f.light, b.light), ("dark", f.dark, b.dark), ("print", f.print, b.print)]
                {
                    let got = contrast(f, b);
                    assert!(got >= least, "{front} on {back}, {scheme}: {got:.2}, needs {least}");
                }
            }
        }
    }

    #[test]
    fn style_uses_only_colours_of_the_table() {
        let style = page_style();
        for used in style.split("var(--").skip(1) {
            let name = used.split([')', ',']).next().unwrap();
            let known = COLOURS.iter().any(|c| c.name == name);
            assert!(known || style.contains(&format!("--{name}:")), "--{name} is not defined");
        }
        let hexadecimal = |c: &char| c.is_ascii_hexdigit();
        for after in [PAGE, DRAWING, PICTURE, PRINT].iter().flat_map(|s| s.split('#').skip(1)) {
            let digits = after.chars().take_while(hexadecimal).count();
            assert!(![3, 4, 6, 8].contains(&digits), "a colour outside the table: #{after:.20}");
        }
        assert!(!style.contains("</"), "the style must not be able to close its element");
    }
}
