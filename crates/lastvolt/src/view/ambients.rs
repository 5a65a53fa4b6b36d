//! Lives of a board at the ambients of the requirement.

use lastvolt_core::review::AmbientLife;
use schemars::JsonSchema;
use serde::Serialize;

use crate::view::Num;

/// One ambient.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct AmbientView {
    /// `low`, `usual` or `high`.
    pub(crate) ambient: &'static str,
    /// The ambient; its mean over the year where the usual one is a calendar.
    pub(crate) ambient_c: Num,
    /// Run time; absent where nothing ends it, or it is not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) life_s: Option<Num>,
    /// Why it ends; absent where it is not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) cause: Option<&'static str>,
    /// Why it is not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) fails: Option<String>,
}

impl From<&AmbientLife> for AmbientView {
    fn from(life: &AmbientLife) -> Self {
        let ending = life.ending.as_ref();
        let known = ending.ok();
        Self {
            ambient: life.which,
            ambient_c: Num(life.ambient.as_celsius()),
            life_s: known.and_then(|known| known.life_secs).map(Num),
            cause: known.map(|known| known.cause.word()),
            fails: ending.err().map(ToString::to_string),
        }
    }
}
