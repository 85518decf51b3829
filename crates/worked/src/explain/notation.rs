//! One walk over an expression writes it as text or as MathML, in symbols or with numbers put in.

use super::names::Names;
use super::{Form, result_text};
use crate::Worked;
use crate::expression::Op;

/// How a formula is written down.
pub(crate) trait Notation {
    fn equals(&self) -> &'static str;
    fn symbol(&self, symbol: &str) -> String;
    fn quantity(&self, text: &str) -> String;
    fn operator(&self, sign: &str) -> String;
    fn fraction(&self, above: Piece, below: Piece) -> Piece;
    fn power(&self, base: Piece, exponent: i32) -> Piece;
    fn power_of_two(&self, exponent: Piece) -> Piece;
    fn root(&self, inner: Piece) -> Piece;
    fn call(&self, function: &str, arguments: &[Piece]) -> Piece;
    fn between(&self, open: &str, inner: &str, close: &str) -> String;
    fn choice(&self, cases: &[Case], otherwise: Piece) -> Piece;
    /// What a choice came to, and the comparison that decided it.
    fn chosen(&self, value: Piece, a: Piece, sign: &str, b: Piece) -> Piece;
}

/// One case of a choice: `then` where `a < b`.
pub(crate) struct Case {
    a: Piece,
    b: Piece,
    then: Piece,
}

/// Terms of a sum that are all written out.
const LONG_SUM: usize = 6;

/// A written sub-expression and how tightly it holds together.
pub(crate) struct Piece {
    pub(crate) text: String,
    hold: Hold,
}

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Hold {
    Sum,
    Product,
    /// A number with a unit: together in a product, but not under a power.
    Quantity,
    Atom,
}

/// Writes an expression. At the root the part itself is written out, below it named parts stand for themselves.
pub(crate) fn render<N: Notation>(
    worked: &Worked,
    n: &N,
    names: &Names,
    form: Form,
    at_root: bool,
) -> String {
    piece(worked, n, names, form, at_root).text
}

fn piece<N: Notation>(worked: &Worked, n: &N, names: &Names, form: Form, at_root: bool) -> Piece {
    let arg = |i: usize| piece(&worked.0.args[i], n, names, form, false);
    match &worked.0.op {
        Op::Input(input) => {
            let text = names.of_input(input, form);
            match form {
                Form::Symbols => Piece { text: n.symbol(&text), hold: Hold::Atom },
                Form::Numbers => number(n, &text),
            }
        }
        Op::Constant(value) => number(n, &plain(*value)),
        Op::Named { .. } | Op::ShownIn(_) if at_root => piece(&worked.0.args[0], n, names, form, true),
        // A second name for an input adds nothing to the formula.
        Op::Named { .. } if matches!(worked.0.args[0].0.op, Op::Input(_)) => arg(0),
        Op::Named { .. } => match form {
            Form::Symbols => Piece { text: n.symbol(&names.of_named(worked)), hold: Hold::Atom },
            Form::Numbers => number(n, &result_text(worked)),
        },
        Op::ShownIn(_) => arg(0),
        // What is nothing on this bench would only hide what is something.
        Op::Add if is_nothing(&worked.0.args[1]) => arg(0),
        Op::Add if is_nothing(&worked.0.args[0]) => arg(1),
        Op::Sub if is_nothing(&worked.0.args[1]) => arg(0),
        Op::Add => {
            let right = arg(1);
            Piece { text: format!("{}{}{}", arg(0).text, n.operator("+"), right.text), hold: Hold::Sum }
        }
        Op::Sub => {
            let right = held(n, arg(1), Hold::Product);
            Piece { text: format!("{}{}{right}", arg(0).text, n.operator("−")), hold: Hold::Sum }
        }
        Op::Sum => {
            // Of a long sum the first terms and the last show the pattern.
            let plus = n.operator("+");
            let some: Vec<usize> =
                (0..worked.0.args.len()).filter(|i| !is_nothing(&worked.0.args[*i])).collect();
            let head = if some.len() > LONG_SUM { 2 } else { some.len() };
            let mut terms: Vec<String> = some.iter().take(head).map(|i| arg(*i).text).collect();
            if let (true, Some(last)) = (some.len() > LONG_SUM, some.last()) {
                terms.push(n.symbol("…"));
                terms.push(arg(*last).text);
            }
            Piece { text: terms.join(&plus), hold: Hold::Sum }
        }
        Op::Mul => {
            let (left, right) = (held(n, arg(0), Hold::Product), held(n, arg(1), Hold::Product));
            Piece { text: format!("{left}{}{right}", n.operator("·")), hold: Hold::Product }
        }
        Op::Div => n.fraction(arg(0), arg(1)),
        Op::Neg => {
            let inner = held(n, arg(0), Hold::Product);
            Piece { text: format!("{}{inner}", n.operator("−").trim()), hold: Hold::Sum }
        }
        Op::Power(exponent) => n.power(arg(0), *exponent),
        Op::Sqrt => n.root(arg(0)),
        Op::Abs => {
            let inner = arg(0);
            Piece { text: n.between("|", &inner.text, "|"), hold: Hold::Atom }
        }
        Op::Exp => match bits(&worked.0.args[0]) {
            Some(exponent) => n.power_of_two(piece(exponent, n, names, form, false)),
            None => n.call("exp", &[arg(0)]),
        },
        Op::Ln => n.call("ln", &[arg(0)]),
        Op::Sin => n.call("sin", &[arg(0)]),
        Op::Cos => n.call("cos", &[arg(0)]),
        Op::Tan => n.call("tan", &[arg(0)]),
        Op::Asin => n.call("arcsin", &[arg(0)]),
        Op::Acos => n.call("arccos", &[arg(0)]),
        Op::Atan => n.call("arctan", &[arg(0)]),
        Op::Min => n.call("min", &(0..worked.0.args.len()).map(arg).collect::<Vec<_>>()),
        Op::Max => n.call("max", &(0..worked.0.args.len()).map(arg).collect::<Vec<_>>()),
        Op::WhenBelow => choice(worked, n, names, form),
    }
}

/// A choice, and those that stand in its other case, as one list. With numbers put in, only what it came to.
fn choice<N: Notation>(worked: &Worked, n: &N, names: &Names, form: Form) -> Piece {
    let written = |part: &Worked| piece(part, n, names, form, false);
    let mut cases = Vec::new();
    let mut last = worked;
    while let (Op::WhenBelow, [a, b, then, otherwise]) = (&last.0.op, &last.0.args[..]) {
        let (below, known) = (a.value() < b.value(), !a.value().is_nan() && !b.value().is_nan());
        if form == Form::Numbers && known && below {
            return n.chosen(written(then), written(a), "<", written(b));
        }
        if form == Form::Numbers && known && !matches!(otherwise.0.op, Op::WhenBelow) {
            return n.chosen(written(otherwise), written(a), "≥", written(b));
        }
        cases.push(Case { a: written(a), b: written(b), then: written(then) });
        last = otherwise;
    }
    n.choice(&cases, written(last))
}

/// The exponent n of a power of two that an equation works out as `exp(n·ln 2)`.
fn bits(exponent: &Worked) -> Option<&Worked> {
    match (&exponent.0.op, &exponent.0.args[..]) {
        (Op::Mul, [bits, factor]) if factor.0.op == Op::Constant(std::f64::consts::LN_2) => Some(bits),
        _ => None,
    }
}

/// A part that is zero by its build: the zero of an equation, or a product with it.
pub(crate) fn is_nothing(worked: &Worked) -> bool {
    let args = &worked.0.args;
    match &worked.0.op {
        Op::Input(input) => &*input.symbol == ZERO && input.value == Some(0.0),
        Op::Constant(value) => *value == 0.0,
        Op::Mul => args.iter().any(is_nothing),
        Op::Div | Op::Neg | Op::Named { .. } | Op::ShownIn(_) | Op::Sqrt | Op::Abs => is_nothing(&args[0]),
        Op::Add | Op::Sub | Op::Sum => args.iter().all(is_nothing),
        _ => false,
    }
}

/// Symbol of a zero that an equation brings along.
const ZERO: &str = "0";

fn number<N: Notation>(n: &N, text: &str) -> Piece {
    let hold = if text.starts_with(['−', '-']) {
        Hold::Sum
    } else if text.contains(' ') {
        Hold::Quantity
    } else {
        Hold::Atom
    };
    Piece { text: n.quantity(text), hold }
}

/// The piece, in parentheses where it holds less tightly than asked.
fn held<N: Notation>(n: &N, piece: Piece, at_least: Hold) -> String {
    if piece.hold < at_least { n.between("(", &piece.text, ")") } else { piece.text }
}

/// A constant without a trailing `.0`; of a number such as ln 9, six digits.
fn plain(value: f64) -> String {
    let rounded = format!("{value:.5e}").parse::<f64>().unwrap_or(value);
    format!("{rounded}").replace('-', "−")
}

/// Formulas as text: `(U_s − U_b) / R`.
pub(crate) struct Text;

impl Notation for Text {
    fn equals(&self) -> &'static str {
        " = "
    }
    fn symbol(&self, symbol: &str) -> String {
        symbol.to_owned()
    }
    fn quantity(&self, text: &str) -> String {
        text.to_owned()
    }
    fn operator(&self, sign: &str) -> String {
        if sign == "·" { sign.to_owned() } else { format!(" {sign} ") }
    }
    fn fraction(&self, above: Piece, below: Piece) -> Piece {
        let (above, below) = (held(self, above, Hold::Product), held(self, below, Hold::Quantity));
        Piece { text: format!("{above} / {below}"), hold: Hold::Product }
    }
    fn power(&self, base: Piece, exponent: i32) -> Piece {
        let digits: String = exponent
            .to_string()
            .chars()
            .map(|c| {
                if c == '-' {
                    '⁻'
                } else {
                    ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'][c as usize - '0' as usize]
                }
            })
            .collect();
        Piece { text: format!("{}{digits}", held(self, base, Hold::Atom)), hold: Hold::Quantity }
    }
    fn power_of_two(&self, exponent: Piece) -> Piece {
        Piece { text: format!("2^{}", held(self, exponent, Hold::Atom)), hold: Hold::Quantity }
    }
    fn root(&self, inner: Piece) -> Piece {
        Piece { text: format!("√({})", inner.text), hold: Hold::Atom }
    }
    fn call(&self, function: &str, arguments: &[Piece]) -> Piece {
        let list: Vec<&str> = arguments.iter().map(|p| p.text.as_str()).collect();
        Piece { text: format!("{function}({})", list.join(", ")), hold: Hold::Atom }
    }
    fn between(&self, open: &str, inner: &str, close: &str) -> String {
        format!("{open}{inner}{close}")
    }
    fn choice(&self, cases: &[Case], otherwise: Piece) -> Piece {
        let cases: Vec<String> = cases
            .iter()
            .map(|case| format!("{} if {} < {}", case.then.text, case.a.text, case.b.text))
            .collect();
        Piece { text: format!("({}, else {})", cases.join(", "), otherwise.text), hold: Hold::Atom }
    }
    fn chosen(&self, value: Piece, a: Piece, sign: &str, b: Piece) -> Piece {
        Piece { text: format!("({} as {} {sign} {})", value.text, a.text, b.text), hold: Hold::Atom }
    }
}

/// Formulas as presentation MathML.
pub(crate) struct Mathml;

impl Notation for Mathml {
    fn equals(&self) -> &'static str {
        "<mo>=</mo>"
    }
    fn symbol(&self, symbol: &str) -> String {
        match symbol.split_once('_') {
            Some((base, below)) => {
                format!(
                    "<msub><mi>{}</mi><mtext>{}</mtext></msub>",
                    escape(base),
                    escape(&below.replace('_', ","))
                )
            }
            None => format!("<mi>{}</mi>", escape(symbol)),
        }
    }
    fn quantity(&self, text: &str) -> String {
        match text.split_once(' ') {
            Some((value, unit)) => format!(
                "<mrow><mn>{}</mn><mspace width=\"0.2em\"/><mtext>{}</mtext></mrow>",
                escape(value),
                escape(unit)
            ),
            None => format!("<mn>{}</mn>", escape(text)),
        }
    }
    fn operator(&self, sign: &str) -> String {
        format!("<mo>{sign}</mo>")
    }
    fn fraction(&self, above: Piece, below: Piece) -> Piece {
        let text = format!("<mfrac><mrow>{}</mrow><mrow>{}</mrow></mfrac>", above.text, below.text);
        Piece { text, hold: Hold::Quantity }
    }
    fn power(&self, base: Piece, exponent: i32) -> Piece {
        let base = held(self, base, Hold::Atom);
        let exponent = exponent.to_string().replace('-', "−");
        Piece { text: format!("<msup><mrow>{base}</mrow><mn>{exponent}</mn></msup>"), hold: Hold::Quantity }
    }
    fn power_of_two(&self, exponent: Piece) -> Piece {
        let text = format!("<msup><mn>2</mn><mrow>{}</mrow></msup>", exponent.text);
        Piece { text, hold: Hold::Quantity }
    }
    fn root(&self, inner: Piece) -> Piece {
        Piece { text: format!("<msqrt>{}</msqrt>", inner.text), hold: Hold::Atom }
    }
    fn call(&self, function: &str, arguments: &[Piece]) -> Piece {
        let list: Vec<&str> = arguments.iter().map(|p| p.text.as_str()).collect();
        let inner = list.join("<mo separator=\"true\">,</mo>");
        Piece { text: format!("<mi>{function}</mi>{}", self.between("(", &inner, ")")), hold: Hold::Atom }
    }
    fn between(&self, open: &str, inner: &str, close: &str) -> String {
        format!("<mrow><mo>{open}</mo>{inner}<mo>{close}</mo></mrow>")
    }
    fn choice(&self, cases: &[Case], otherwise: Piece) -> Piece {
        let row = |value: &str, when: &str| {
            format!("<mtr><mtd><mrow>{value}</mrow></mtd><mtd><mrow>{when}</mrow></mtd></mtr>")
        };
        let when = |case: &Case| format!("<mtext>if </mtext>{}<mo>&lt;</mo>{}", case.a.text, case.b.text);
        let rows: String = cases.iter().map(|case| row(&case.then.text, &when(case))).collect();
        let text = format!(
            "<mrow><mo>{{</mo><mtable columnalign=\"left\">{rows}{}</mtable></mrow>",
            row(&otherwise.text, "<mtext>else</mtext>")
        );
        Piece { text, hold: Hold::Atom }
    }
    fn chosen(&self, value: Piece, a: Piece, sign: &str, b: Piece) -> Piece {
        let inner = format!("{}<mtext> as </mtext>{}<mo>{}</mo>{}", value.text, a.text, escape(sign), b.text);
        Piece { text: self.between("(", &inner, ")"), hold: Hold::Atom }
    }
}

fn escape(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}
