//! `bindpoint schema`: every field of a scene file.

use bindpoint::findings::Status;
use miette::Result;

pub(super) fn run() -> Result<Status> {
    super::print(&bindpoint::scene::field_reference())?;
    Ok(Status::Clear)
}
