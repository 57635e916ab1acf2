//! Words that quote what is written in a scenario, between backticks, for a page.
//!
//! Knows: backticks. Must not know: what they quote.
//! Promises: nothing is lost; a backtick without its fellow stays what it is.

use maud::{Markup, html};

/// The text with what stands between backticks as code.
pub(super) fn quoted(text: &str) -> Markup {
    let mut parts = Vec::new();
    let mut rest = text;
    while let Some((before, opened)) = rest.split_once('`') {
        let Some((code, after)) = opened.split_once('`') else {
            break;
        };
        parts.push((before, code));
        rest = after;
    }
    html! { @for (before, code) in parts { (before) code { (code) } } (rest) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stands_between_backticks_is_code_and_all_else_stays() {
        let page = |text: &str| quoted(text).into_string();
        assert_eq!(
            page("set `spares: <n>`, or `only`."),
            "set <code>spares: &lt;n&gt;</code>, or <code>only</code>."
        );
        assert_eq!(page("a ` alone & more"), "a ` alone &amp; more");
        assert_eq!(page("`a` and `b"), "<code>a</code> and `b");
        assert_eq!(page(""), "");
    }
}
