//! Questions over the screen: a line of text, a few lines, or a choice of letters.

use crate::plan::{Setting, ZoneId};
use crate::session::{CounterConfirm, SessionOutcome};
use crate::tui::widgets::dialog::Question;
use crate::tui::widgets::field::TextField;

/// An open question.
#[derive(Debug, Clone)]
pub(super) enum Dialog {
    /// One line of text.
    Text(TextDialog),
    /// Several lines of text.
    Fields(FieldsDialog),
    /// A choice of letters.
    Choice(ChoiceDialog),
}

/// What a line of text is for.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum TextAsk {
    CheckNo { item: String },
    CheckValue { item: String },
    ChangeSetting { zone: ZoneId, to: Setting },
    Count,
    Correct,
    Counter { then: AfterCounter },
    Decline { advice: u64 },
    Note,
    Remark,
    EndZone { zone: ZoneId },
    Explain,
    SaveElsewhere,
    CloseNote { outcome: SessionOutcome },
}

/// What follows a counter reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum AfterCounter {
    Nothing,
    StartPass,
    EndPass,
}

#[derive(Debug, Clone)]
pub(super) struct TextDialog {
    pub(super) ask: TextAsk,
    pub(super) title: String,
    pub(super) body: String,
    pub(super) field: TextField,
    /// An empty answer is an answer.
    pub(super) may_be_empty: bool,
}

#[derive(Debug, Clone)]
pub(super) struct FieldsDialog {
    pub(super) item: String,
    pub(super) title: String,
    pub(super) body: String,
    pub(super) fields: Vec<TextField>,
    pub(super) focus: usize,
}

/// What a choice is about.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum ChoiceAsk {
    Grade(crate::session::Response),
    Responses,
    Pain,
    CounterConfirm { reading: u64, then: AfterCounter },
    Unsettled { then: AfterCounter },
    Outcome,
    ConfirmClose { outcome: SessionOutcome },
    Leave,
}

/// What a letter of a choice means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Choice {
    Grade(u8),
    Response(crate::session::Response),
    Confirm(CounterConfirm),
    TakeDevice,
    KeepCount,
    Outcome(SessionOutcome),
    Yes,
    Back,
}

#[derive(Debug, Clone)]
pub(super) struct ChoiceDialog {
    pub(super) ask: ChoiceAsk,
    pub(super) title: String,
    pub(super) body: String,
    pub(super) options: Vec<(char, String, Choice)>,
    /// Asked by the program: keys typed before it was seen do not answer.
    pub(super) guarded: bool,
    pub(super) question: Question,
}

impl Dialog {
    pub(super) fn text(
        ask: TextAsk,
        title: &str,
        body: impl Into<String>,
        label: &str,
        unit: &str,
        max: usize,
    ) -> Self {
        Self::Text(TextDialog {
            ask,
            title: title.to_owned(),
            body: body.into(),
            field: TextField::new(label, unit, max),
            may_be_empty: false,
        })
    }

    /// The question in one line, for somebody who listens.
    pub(super) fn spoken(&self) -> String {
        let (title, body) = match self {
            Self::Text(d) => (&d.title, &d.body),
            Self::Fields(d) => (&d.title, &d.body),
            Self::Choice(d) => (&d.title, &d.body),
        };
        let body = body.split('\n').next().unwrap_or_default();
        format!("{title} {body}").trim().to_owned()
    }

    pub(super) fn or_empty(mut self) -> Self {
        if let Self::Text(t) = &mut self {
            t.may_be_empty = true;
        }
        self
    }

    pub(super) fn choice(
        ask: ChoiceAsk,
        title: &str,
        body: impl Into<String>,
        options: Vec<(char, String, Choice)>,
    ) -> Self {
        Self::Choice(ChoiceDialog {
            ask,
            title: title.to_owned(),
            body: body.into(),
            options,
            guarded: false,
            question: Question::new(),
        })
    }

    pub(super) fn guarded(mut self) -> Self {
        if let Self::Choice(c) = &mut self {
            c.guarded = true;
        }
        self
    }
}
