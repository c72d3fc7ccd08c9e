mod dice;
use dice::Dice;
use parry3d::math::{Pose, Vector, Rotation};
use parry3d::shape::Cylinder;
#[test]
fn search() {
    let mut d = Dice::new(1);
    let mut found = 0;
    // A along y at origin (parry's axis); B: quarter turn about x -> along z; or about z -> along x
    for trial in 0..3_000_000u64 {
        let (r1, h1, r2, h2) = (d.between(2.,60.), d.between(5.,200.), d.between(2.,60.), d.between(5.,200.));
        let q = std::f64::consts::FRAC_PI_2;
        let style = d.below(3);
        let rnd = |x: f64, s: usize| match s { 0 => x, 1 => x.round(), _ => 0.0 };
        let g = match d.below(3) { 0 => d.between(0.001, 0.1), 1 => d.between(0.1, 5.0), _ => 1.0 };
        // B along z: common perpendicular is x
        let y = rnd(d.between(-h1, h1), d.below(3));
        let z = rnd(d.between(-h2, h2), d.below(3));
        let (r1,r2,h1,h2) = if style==0 {(r1,r2,h1,h2)} else {(r1.round(),r2.round(),h1.round().max(y.abs()),h2.round().max(z.abs()))};
        let x = r1 + r2 + g;
        let pb = Pose::from_parts(Vector::new(x, y, z), Rotation::from_rotation_x(q));
        let dist = parry3d::query::distance(&Pose::IDENTITY, &Cylinder::new(h1, r1), &pb, &Cylinder::new(h2, r2)).unwrap().distance;
        if (dist - g).abs() > 0.05 {
            found += 1;
            if found < 30 { println!("{trial}: r1 {r1} h1 {h1} r2 {r2} h2 {h2} at {x} {y} {z}: true {g} parry {dist}"); }
        }
    }
    println!("found {found}");
}
