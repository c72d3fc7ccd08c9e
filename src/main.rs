use bindpoint::*;
fn main(){
  let t0=std::time::Instant::now();
  let truck=match truck::load(std::path::Path::new(&std::env::args().nth(1).unwrap())){Ok(t)=>t,Err(e)=>{println!("{:?}",miette::Report::new(e));return;}};
  eprintln!("load {:?}", t0.elapsed());
  for c in &truck.corners { eprintln!("{:?} parts {} pairs {} limits {} overlaps {:?}", c.side,c.parts.len(),c.pairs.len(),c.limits.len(),c.overlaps); }
  let t0=std::time::Instant::now();
  let f=sweep::sweep(&truck,&Default::default(),&|s,p|eprintln!("{s} {p} {:?}",t0.elapsed()));
  eprintln!("sweep {:?}", t0.elapsed());
  println!("{}",serde_json::to_string_pretty(&f).unwrap());
}
