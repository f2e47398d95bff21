//! Text that stands in many rows and in memory once.

use std::ops::Deref;
use std::sync::Arc;

/// Text that is shared by all who have it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Shared(Arc<str>);

impl Deref for Shared {
    type Target = str;
    fn deref(&self) -> &str {
        &self.0
    }
}

impl From<&str> for Shared {
    fn from(text: &str) -> Self {
        Self(text.into())
    }
}

impl PartialEq<&str> for Shared {
    fn eq(&self, other: &&str) -> bool {
        &**self == *other
    }
}

impl serde::Serialize for Shared {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self)
    }
}
