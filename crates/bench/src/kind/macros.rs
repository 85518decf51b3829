//! The macros that write a struct with its accessors and the list of its fields from one table.

/// Words of a choice: an enum whose variants stand for words in the file.
macro_rules! words {
    ($( $(#[doc = $doc:literal])* $name:ident { $( $variant:ident = $word:literal, $text:literal; )* } )*) => { $(
        $(#[doc = $doc])*
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
        pub enum $name { $( #[doc = $text] $variant, )* }

        impl $crate::kind::Words for $name {
            const WORDS: &'static [$crate::kind::Word] =
                &[ $( $crate::kind::Word { word: $word, text: $text }, )* ];
            const ALL: &'static [Self] = &[ $( Self::$variant, )* ];
        }

        impl $name {
            /// The word in the file.
            pub fn word(self) -> &'static str {
                match self { $( Self::$variant => $word, )* }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.word())
            }
        }
    )* };
}

/// Kinds of table: for each the struct, its documentation, its accessors, and the list of its fields.
///
/// A line reads `form key: Type (specification) #needed "text";`, where `Type` and specification depend on the
/// form: see `field_form!` and `field_accessor!`.
macro_rules! tables {
    ($( $(#[doc = $doc:literal])* $name:ident = $title:literal $(, shorthand $short:literal)? {
        $( $form:ident $key:ident $(: $ty:ident)? $(($($spec:tt)*))? $(#$req:ident)? $text:literal; )*
    } )*) => { $(
        $(#[doc = $doc])*
        #[derive(Clone, Debug)]
        pub struct $name(pub(crate) $crate::record::Record);

        impl $crate::record::Table for $name {
            const KIND: &'static $crate::kind::Kind = &$crate::kind::Kind {
                name: $title,
                text: concat!($($doc, "\n"),*),
                shorthand: $crate::kind::first(&[$($short)?]),
                fields: &[ $( $crate::kind::Field {
                    key: $crate::kind::key(stringify!($key)),
                    text: $text,
                    form: $crate::kind::field_form!($form $($ty)? $(($($spec)*))?),
                    required: $crate::kind::first(&[$(stringify!($req))?]).is_some(),
                }, )* ],
            };
            fn from_record(record: $crate::record::Record) -> Self {
                Self(record)
            }
        }

        impl std::ops::Deref for $name {
            type Target = $crate::record::Record;
            fn deref(&self) -> &Self::Target {
                &self.0
            }
        }

        const _: () = {
            #[allow(non_camel_case_types, clippy::upper_case_acronyms)]
            enum At { $( $key, )* }
            impl $name { $( $crate::kind::field_accessor!($form $key $($ty)? $text); )* }
        };
    )* };
}

/// The form of a field from its line in `tables!`.
macro_rules! field_form {
    (quantity ($($spec:tt)*)) => { $crate::kind::Form::Quantity($($spec)*) };
    (window ($($spec:tt)*)) => { $crate::kind::Form::Window(($($spec)*).permitted()) };
    (ratio) => { $crate::kind::Form::Ratio };
    (whole ($symbol:literal, $low:literal, $high:literal)) => {
        $crate::kind::Form::Whole { within: ($low, $high), per_rev: false, symbol: $symbol }
    };
    (per_rev ($symbol:literal, $low:literal, $high:literal)) => {
        $crate::kind::Form::Whole { within: ($low, $high), per_rev: true, symbol: $symbol }
    };
    (choice $ty:ident) => {
        $crate::kind::Form::Choice { words: <$ty as $crate::kind::Words>::WORDS, default: None }
    };
    (choice $ty:ident (else $variant:ident)) => {
        $crate::kind::Form::Choice {
            words: <$ty as $crate::kind::Words>::WORDS,
            default: Some($ty::$variant as usize),
        }
    };
    (flag) => { $crate::kind::Form::Flag { default: None } };
    (flag (else $value:literal)) => { $crate::kind::Form::Flag { default: Some($value) } };
    (name) => { $crate::kind::Form::Text($crate::kind::Refers::Free) };
    (text) => { $crate::kind::Form::Text($crate::kind::Refers::Free) };
    (text ($refers:ident)) => { $crate::kind::Form::Text($crate::kind::Refers::$refers) };
    (texts) => { $crate::kind::Form::Texts($crate::kind::Refers::Free) };
    (texts ($refers:ident)) => { $crate::kind::Form::Texts($crate::kind::Refers::$refers) };
    (table $ty:ident) => { $crate::kind::Form::Table(<$ty as $crate::record::Table>::KIND) };
    (flat $ty:ident) => { $crate::kind::Form::Flat(<$ty as $crate::record::Table>::KIND) };
    (tables $ty:ident) => { $crate::kind::Form::Tables(<$ty as $crate::record::Table>::KIND) };
    (named $ty:ident) => { $crate::kind::Form::Named(<$ty as $crate::record::Table>::KIND) };
    (part $ty:ident) => { $crate::kind::Form::Part(<$ty as $crate::record::Table>::KIND) };
    (settings ($($spec:tt)*)) => { $crate::kind::Form::Settings { quant: $($spec)*, or_name: false } };
    (settings_or_names ($($spec:tt)*)) => { $crate::kind::Form::Settings { quant: $($spec)*, or_name: true } };
    (map) => { $crate::kind::Form::Map { refers: $crate::kind::Refers::Free, table: None } };
    (map ($refers:ident)) => { $crate::kind::Form::Map { refers: $crate::kind::Refers::$refers, table: None } };
    (map $ty:ident ($refers:ident)) => {
        $crate::kind::Form::Map {
            refers: $crate::kind::Refers::$refers,
            table: Some(<$ty as $crate::record::Table>::KIND),
        }
    };
}

/// The accessor of a field from its line in `tables!`.
macro_rules! field_accessor {
    (quantity $key:ident $text:literal) => {
        #[doc = $text]
        pub fn $key(&self) -> worked::Worked {
            self.0.quantity(At::$key as usize)
        }
    };
    (window $key:ident $text:literal) => {
        #[doc = $text]
        pub fn $key(&self) -> $crate::record::Window {
            self.0.window(At::$key as usize)
        }
    };
    (ratio $key:ident $text:literal) => {
        #[doc = $text]
        pub fn $key(&self) -> worked::Worked {
            self.0.quantity(At::$key as usize)
        }
    };
    (whole $key:ident $text:literal) => {
        #[doc = $text]
        pub fn $key(&self) -> worked::Worked {
            self.0.quantity(At::$key as usize)
        }
    };
    (per_rev $key:ident $text:literal) => {
        #[doc = $text]
        pub fn $key(&self) -> worked::Worked {
            self.0.quantity(At::$key as usize)
        }
    };
    (choice $key:ident $ty:ident $text:literal) => {
        #[doc = $text]
        pub fn $key(&self) -> $crate::record::Choice<$ty> {
            self.0.choice(At::$key as usize)
        }
    };
    (flag $key:ident $text:literal) => {
        #[doc = $text]
        pub fn $key(&self) -> $crate::record::Choice<bool> {
            self.0.flag(At::$key as usize)
        }
    };
    (name $key:ident $text:literal) => {
        #[doc = $text]
        pub fn $key(&self) -> &str {
            self.0.text(At::$key as usize).unwrap_or("")
        }
    };
    (text $key:ident $text:literal) => {
        #[doc = $text]
        pub fn $key(&self) -> Option<&str> {
            self.0.text(At::$key as usize)
        }
    };
    (texts $key:ident $text:literal) => {
        #[doc = $text]
        pub fn $key(&self) -> Vec<&str> {
            self.0.texts(At::$key as usize)
        }
    };
    (table $key:ident $ty:ident $text:literal) => {
        #[doc = $text]
        pub fn $key(&self) -> $ty {
            self.0.table(At::$key as usize)
        }
    };
    (flat $key:ident $ty:ident $text:literal) => {
        #[doc = $text]
        pub fn $key(&self) -> $ty {
            self.0.table(At::$key as usize)
        }
    };
    (tables $key:ident $ty:ident $text:literal) => {
        #[doc = $text]
        pub fn $key(&self) -> Vec<$ty> {
            self.0.tables(At::$key as usize)
        }
    };
    (named $key:ident $ty:ident $text:literal) => {
        #[doc = $text]
        pub fn $key(&self) -> Vec<(std::sync::Arc<str>, $ty)> {
            self.0.named(At::$key as usize)
        }
    };
    (part $key:ident $ty:ident $text:literal) => {
        #[doc = $text]
        pub fn $key(&self) -> Option<$ty> {
            self.0.part(At::$key as usize)
        }
    };
    (settings $key:ident $text:literal) => {
        #[doc = $text]
        pub fn $key(&self) -> Vec<$crate::record::Setting> {
            self.0.settings(At::$key as usize)
        }
    };
    (settings_or_names $key:ident $text:literal) => {
        #[doc = $text]
        pub fn $key(&self) -> Vec<$crate::record::Setting> {
            self.0.settings(At::$key as usize)
        }
    };
    (map $key:ident $text:literal) => {
        #[doc = $text]
        pub fn $key(&self) -> &[$crate::record::Entry] {
            self.0.map(At::$key as usize)
        }
    };
    (map $key:ident $ty:ident $text:literal) => {
        #[doc = $text]
        pub fn $key(&self) -> &[$crate::record::Entry] {
            self.0.map(At::$key as usize)
        }
    };
}

pub(crate) use {field_accessor, field_form, tables, words};
