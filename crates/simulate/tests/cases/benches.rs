//! Starters with texts of their files changed.

use bench::builtin::{self, Starter};
use bench::{Bench, Files, ReadError};

struct Changed {
    starter: Starter,
    changes: Vec<(String, String)>,
}

impl Files for Changed {
    fn read(&self, path: &str) -> Result<Vec<u8>, ReadError> {
        let text = String::from_utf8(self.starter.read(path)?).expect("text");
        let changed = self.changes.iter().fold(text, |text, (from, to)| text.replace(from, to));
        Ok(changed.into_bytes())
    }

    fn names(&self) -> Vec<String> {
        self.starter.names()
    }
}

/// A starter with these texts replaced in all of its files.
pub(crate) fn changed(name: &str, changes: &[(&str, &str)]) -> Bench {
    let starter = builtin::starter(name).expect("a starter");
    let changes = changes.iter().map(|(from, to)| ((*from).to_owned(), (*to).to_owned())).collect();
    let checked = bench::load_from(&Changed { starter, changes });
    checked.value.unwrap_or_else(|| panic!("{:?}", checked.findings))
}
