use bindpoint::sweep::{line::*, rate_atlas::Atlas, stops::*};
use bindpoint::*;
fn main() {
    let truck = truck::load(std::path::Path::new(&std::env::args().nth(1).unwrap())).unwrap();
    let c = &truck.corners[0];
    let t0 = std::time::Instant::now();
    let atlas = Atlas::build(c);
    eprintln!("atlas {:?} domain {:?}", t0.elapsed(), atlas.domain);
    let mut v = vec![];
    let g = Guard::new(c, &atlas, 1.0);
    for rack in [-75.0, -37.5, 0.0, 75.0] {
        for dir in 0..2 {
            for s in g.stops.clone() {
                let q0 = g.distance_queries();
                let st = match s {
                    StopKind::Tight(i) | StopKind::Contact(i) => g.clear_to[i][dir],
                    _ => 0.0,
                };
                let t = std::time::Instant::now();
                let r = first_crossing(
                    &g,
                    Line::AlongTravel { rack_mm: rack },
                    s,
                    st,
                    atlas.domain.alpha[dir],
                );
                v.push((
                    t.elapsed().as_secs_f64() * 1e3,
                    format!("{rack} {}", stop_name(c, s)),
                    r,
                    g.distance_queries() - q0,
                ));
            }
        }
    }
    v.sort_by(|a, b| b.0.total_cmp(&a.0));
    for i in 0..c.pairs.len() {
        if !g.always_clear(i) {
            eprintln!(
                "pair {} clear_to {:?}",
                c.pair_name(&c.pairs[i]),
                g.clear_to[i]
            );
        }
    }
    let t = std::time::Instant::now();
    let r = bindpoint::sweep::free_travel::Region::map(&g);
    eprintln!("map {:?} q {}", t.elapsed(), g.distance_queries());
    eprintln!("{:?}", r.findings(c, false).shares);
    eprintln!("total {}", v.iter().map(|x| x.0).sum::<f64>());
    for x in v.iter().take(25) {
        println!("{:.3} ms {} {:?} q={}", x.0, x.1, x.2, x.3);
    }
}
