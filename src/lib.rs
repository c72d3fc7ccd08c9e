//! draft
pub mod numbers;
pub mod suspension;
pub mod kinematics;
pub mod shapes;
pub mod limits;
pub mod clearance;
pub mod scene;
pub mod truck;
pub mod findings;
pub mod sweep;
pub mod output;
