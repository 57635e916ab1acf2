//! What the ends of spools look like, wherever they are drawn.
//!
//! Knows: shapes. Must not know: what they are drawn on.
//! Promises: a mark has one meaning on all drawings, and differs from the other in shape, not only in colour.

use maud::{Markup, html};

/// A spool ends with nobody there: a warning, pointing down from the origin.
pub(super) fn alone() -> Markup {
    html! {
        path.warn d="M-8 0H8L0 14Z" {}
        text.bang x="-2.2" y="9.5" { "!" }
    }
}

/// A spool ends, or is changed, with somebody there: a spool seen from its side, below the origin.
pub(super) fn changed() -> Markup {
    html! { path.spool d="M-6 7a6 6 0 1 0 12 0a6 6 0 1 0 -12 0ZM-2.2 7a2.2 2.2 0 1 0 4.4 0a2.2 2.2 0 1 0 -4.4 0Z" {} }
}

/// A mark in words that say what it means.
pub(super) fn key(mark: &Markup) -> Markup {
    html! { svg.mark-key width="18" height="15" viewBox="-9 -.5 18 15" aria-hidden="true" focusable="false" { (mark) } }
}
