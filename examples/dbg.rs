use bindpoint::*;
use bindpoint::numbers::*;
fn main(){
  let truck=truck::load(std::path::Path::new("scenes/tarnwood.ron")).unwrap();
  let c=&truck.corners[0];
  for (t,r) in [(-4.84,-56.25),(-60.0,-37.5),(-92.4,0.0)]{
  let p=c.position(t,r).unwrap();
  for h in [1e-9,1e-6,1e-4,1e-3,1e-2]{
    let l=c.positioner.linkage.solve(Enclosure::variable(p.alpha,h,0),Enclosure::variable(r,h*100.,1));
    print!("{t} {r} h={h}: z {:?} ",l.wheel_centre.z.rate[0].half_width()/h);
    for lim in &c.limits { for i in 0..lim.pieces(){ let e=lim.reserve(i,&l); if !(e.rate[0].is_bounded()&&e.rate[1].is_bounded()){print!(" UNB {}[{}] range {:?}",lim.name,i,e.range);} }}
    let o=c.orbit_mm(&l); print!(" orbit {:?}",o.rate[0].is_bounded());
    let r=sweep::rate_atlas::CellRates::enclose(c,&sweep::rate_atlas::Cell{alpha:[p.alpha-h,p.alpha+h],rack:[r-h*100.,r+h*100.]});
    println!(" enclose {}",r.is_some());
  }}
}
