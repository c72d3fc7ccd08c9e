//! What the panels show: the unit, the page at the left, messages.

use crate::output::Units;
use bevy::prelude::*;

/// Pages of the left panel.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Page {
    /// What stops the wheel.
    #[default]
    Stops,
    /// Parts and gaps.
    Parts,
    /// The scene's numbers.
    Edit,
    /// Room for a bracket: the keep-out solid, parts loaded and placed.
    Room,
}

impl Page {
    /// Every page.
    pub const ALL: [Page; 4] = [Page::Stops, Page::Parts, Page::Edit, Page::Room];

    /// As shown.
    pub fn name(self) -> &'static str {
        match self {
            Page::Stops => "Stops",
            Page::Parts => "Parts and gaps",
            Page::Edit => "Edit",
            Page::Room => "Room",
        }
    }
}

/// What the panels show.
#[derive(Resource, Debug, Clone)]
pub struct Shown {
    /// Unit of lengths.
    pub units: Units,
    /// Left page.
    pub page: Page,
    /// A line about what was just done, until the next.
    pub note: Option<String>,
}
