//! draft
pub mod clearance;
pub mod findings;
pub mod kinematics;
pub mod limits;
pub mod numbers;
pub mod output;
pub mod scene;
pub mod shapes;
pub mod suspension;
pub mod sweep;
pub mod truck;
