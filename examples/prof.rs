use bindpoint::*;
use bindpoint::sweep::{rate_atlas::Atlas,stops::*,line::*};
fn main(){
  let truck=truck::load(std::path::Path::new(&std::env::args().nth(1).unwrap())).unwrap();
  let c=&truck.corners[0];
  let t0=std::time::Instant::now();
  let atlas=Atlas::build(c);
  eprintln!("atlas {:?} domain {:?}",t0.elapsed(),atlas.domain);
  let mut v=vec![];
  for s in all_stops(c){
    let g=Guard::new(c,&atlas,1.0);
    let t=std::time::Instant::now();
    let r=first_crossing(&g,Line::AlongTravel{rack_mm:0.0},s,0.0,atlas.domain.alpha[0]);
    v.push((t.elapsed().as_secs_f64()*1e3,stop_name(c,s),r,g.distance_queries()));
  }
  v.sort_by(|a,b|b.0.total_cmp(&a.0));
  eprintln!("total {}",v.iter().map(|x|x.0).sum::<f64>());
  for x in v.iter().take(25){println!("{:.3} ms {} {:?} q={}",x.0,x.1,x.2,x.3);}
}
