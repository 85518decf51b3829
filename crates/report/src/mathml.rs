//! Formulas come as ready MathML. Before one goes into a page it is read strictly: what is not one
//! well-formed formula of presentation elements is not put in, and the page shows the text instead.

/// Elements of MathML Core and its older relatives that draw, and carry no behaviour.
const ELEMENTS: [&str; 24] = [
    "math",
    "mrow",
    "mi",
    "mn",
    "mo",
    "mtext",
    "ms",
    "mspace",
    "msup",
    "msub",
    "msubsup",
    "mfrac",
    "msqrt",
    "mroot",
    "mtable",
    "mtr",
    "mtd",
    "mover",
    "munder",
    "munderover",
    "mpadded",
    "mstyle",
    "mphantom",
    "mfenced",
];

const ATTRIBUTES: [&str; 24] = [
    "xmlns",
    "display",
    "displaystyle",
    "mathvariant",
    "dir",
    "alttext",
    "width",
    "height",
    "depth",
    "form",
    "fence",
    "separator",
    "stretchy",
    "symmetric",
    "lspace",
    "rspace",
    "minsize",
    "maxsize",
    "linethickness",
    "accent",
    "accentunder",
    "columnalign",
    "columnspacing",
    "rowspacing",
];

/// Whether the text is exactly one `<math>` element, well-formed as XML, of known elements and attributes.
pub(crate) fn is_formula(text: &str) -> bool {
    let mut rest = text.trim();
    let mut open: Vec<&str> = Vec::new();
    let mut any = false;
    while let Some(at) = rest.find('<') {
        let (words, tag) = rest.split_at(at);
        let outside = open.is_empty();
        if !is_text(words) || (outside && (any || !words.is_empty())) {
            return false;
        }
        let Some(end) = tag.find('>') else { return false };
        let inner = &tag[1..end];
        rest = &tag[end + 1..];
        if let Some(name) = inner.strip_prefix('/') {
            if open.pop() != Some(name.trim_end()) {
                return false;
            }
            any |= open.is_empty();
            continue;
        }
        let (inner, empty) = match inner.strip_suffix('/') {
            Some(inner) => (inner, true),
            None => (inner, false),
        };
        let (name, attributes) = inner.split_at(inner.find(char::is_whitespace).unwrap_or(inner.len()));
        if !ELEMENTS.contains(&name) || outside != (name == "math") || !are_attributes(attributes) {
            return false;
        }
        if !empty {
            open.push(name);
        }
    }
    any && open.is_empty() && rest.is_empty()
}

fn are_attributes(text: &str) -> bool {
    let mut rest = text.trim();
    let mut seen: Vec<&str> = Vec::new();
    while !rest.is_empty() {
        let Some((name, after)) = rest.split_once("=\"") else { return false };
        let Some((value, after)) = after.split_once('"') else { return false };
        let namespace = name != "xmlns" || value == "http://www.w3.org/1998/Math/MathML";
        if !ATTRIBUTES.contains(&name) || seen.contains(&name) || !namespace || !is_text(value) {
            return false;
        }
        seen.push(name);
        if !after.is_empty() && !after.starts_with(char::is_whitespace) {
            return false;
        }
        rest = after.trim_start();
    }
    true
}

/// Character data: no markup, and only references that XML knows without a document type.
fn is_text(text: &str) -> bool {
    if text.contains('<') || text.contains('>') {
        return false;
    }
    text.split('&').skip(1).all(|after| {
        let Some((name, _)) = after.split_once(';') else { return false };
        let number = |digits: &str, radix| {
            u32::from_str_radix(digits, radix).ok().and_then(char::from_u32).is_some_and(|c| !c.is_control())
        };
        match name.strip_prefix('#') {
            Some(digits) => match digits.strip_prefix('x') {
                Some(hex) => number(hex, 16),
                None => number(digits, 10),
            },
            None => matches!(name, "amp" | "lt" | "gt" | "quot" | "apos"),
        }
    })
}

#[cfg(test)]
mod tests {
    use super::is_formula;

    #[test]
    fn formulas_pass() {
        for text in [
            "<math><mi>R</mi></math>",
            r#"<math display="block" xmlns="http://www.w3.org/1998/Math/MathML"><msub><mi>I</mi><mtext>st</mtext></msub><mo>=</mo><mfrac><mn>24</mn><mn>3.65</mn></mfrac><mspace width="0.2em"/></math>"#,
            "<math><mo>&lt;</mo><mo>&#x2212;</mo><mtext>a &amp; b</mtext></math>",
        ] {
            assert!(is_formula(text), "{text}");
        }
    }

    #[test]
    fn formulas_of_worked_numbers_pass() {
        use worked::{Dimension, Effort, Input, Number};
        let input = |symbol: &str, dimension, value: f64| {
            Input::new(&format!("axes.left.{symbol}"), "a <name> & more", symbol, dimension)
                .value(value)
                .limits(0.9 * value, 1.1 * value)
                .worked()
        };
        let supply = input("U_s", Dimension::VOLTAGE, 24.0);
        let resistance = input("R_<&>", Dimension::RESISTANCE, 3.65);
        let limit = input("I_\"lim\"", Dimension::CURRENT, 4.2);
        let stall = (supply.clone() / resistance.clone()).called("stall < current", "I_st");
        let locked = stall.clone().at_most(limit.clone()).called("locked & held", "I_lock");
        let heat = (locked.clone().squared() * resistance).called("heat", "P");
        let decay = (-(stall / limit)).exp().called("decay", "d");
        let rest =
            (supply.clone().squared() - supply.squared() * decay).or_zero().sqrt().called("rest", "U_r");
        for worked in [locked, heat, rest] {
            let figure = worked.figure(Effort::FirstOrder);
            assert!(!figure.steps.is_empty());
            for step in &figure.steps {
                assert!(is_formula(&step.mathml), "{}", step.mathml);
            }
        }
    }

    #[test]
    fn anything_else_does_not() {
        for text in [
            "",
            "x",
            "<math><mi>R</mi>",
            "<math><mi>R</math></mi>",
            "<math><mi>R</mi></math>x",
            "<math></math><math></math>",
            "<mi>R</mi>",
            "<math><script>alert(1)</script></math>",
            "<math onclick=\"x()\"><mi>R</mi></math>",
            "<math><mi href=\"javascript:x()\">R</mi></math>",
            "<math><mtext>a & b</mtext></math>",
            "<math><mtext>&nbsp;</mtext></math>",
            "<math display=block></math>",
            "<math><!-- --></math>",
            "<math><math></math></math>",
            "<math display=\"a\"display=\"b\"></math>",
            "<math",
        ] {
            assert!(!is_formula(text), "{text}");
        }
    }
}
