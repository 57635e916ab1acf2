//! Shows complaints with the source line that they are about.
//!
//! Knows: how a terminal shows an annotated line. Must not know: the rules of a scenario.
//! Promises: text without escape sequences unless colour is asked for.

use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Group, Level, Origin, Renderer, Snippet};

use super::complaint::{Complaint, Complaints, Severity};

impl Complaint {
    /// The complaint with its source line, over several lines; escape sequences only with `color`.
    pub fn render(&self, color: bool) -> String {
        let renderer = if color {
            Renderer::styled()
        } else {
            Renderer::plain()
        };
        renderer
            .decor_style(DecorStyle::Ascii)
            .render(&[self.group()])
    }

    fn group(&self) -> Group<'_> {
        let level = match self.severity {
            Severity::Error => Level::ERROR,
            Severity::Warning => Level::WARNING,
        };
        let group = level.primary_title(self.title()).elements(None::<Origin>);
        let label = if self.found.is_empty() {
            None
        } else {
            Some(format!("found {}", self.found))
        };
        let group = match &self.place {
            Some(place) => match &place.text {
                Some(text) => group.element(
                    Snippet::source(text.as_str())
                        .line_start(place.line)
                        .path(self.file.as_str())
                        .annotation(
                            AnnotationKind::Primary
                                .span(place.mark.clone())
                                .label(label),
                        ),
                ),
                None => group.element(
                    Origin::path(self.file.as_str())
                        .line(place.line)
                        .char_column(place.column),
                ),
            },
            None => group.element(Origin::path(self.file.as_str())),
        };
        group.element(Level::HELP.message(self.fix.as_str()))
    }
}

impl Complaints {
    /// All complaints, one under the other, warnings last, with a closing count.
    pub fn render(&self, color: bool) -> String {
        let mut text = String::new();
        for complaint in self.errors.iter().chain(&self.warnings) {
            text.push_str(&complaint.render(color));
            text.push_str("\n\n");
        }
        let errors = self.errors.len() + self.unlisted;
        let plural = if errors == 1 { "" } else { "s" };
        text.push_str(&format!("{errors} error{plural}"));
        if self.unlisted > 0 {
            text.push_str(&format!(", the first {} shown", self.errors.len()));
        }
        text
    }
}
