#!/usr/bin/env bash
# What fuzzing found, kept small: for each target few files that reach every edge that its corpus reaches, packed in
# seeds/TARGET.tar.xz.
#
#   fuzz/seeds.sh unpack   puts them into corpus/TARGET, where `cargo +nightly fuzz run TARGET` starts from them
#   fuzz/seeds.sh pack     picks them anew from corpus/TARGET and what is packed, with a nightly compiler and cargo-fuzz
#
# libFuzzer picks: a greedy set cover by edges alone (-use_counters=0); how often an edge is gone along, which it minds
# otherwise, keeps thousands of files more.
set -euo pipefail
cd "$(dirname "$0")"
targets=(obj ply stl gltf scene threemf threemf_model)
case "${1:-}" in
unpack)
    for target in "${targets[@]}"; do
        mkdir -p "corpus/$target"
        tar -xJf "seeds/$target.tar.xz" -C "corpus/$target"
    done
    ;;
pack)
    for target in "${targets[@]}"; do
        picked=$(mktemp -d) packed=$(mktemp -d)
        tar -xJf "seeds/$target.tar.xz" -C "$packed"
        mkdir -p "corpus/$target"
        cargo +nightly fuzz run "$target" "$picked" "corpus/$target" "$packed" -- \
            -set_cover_merge=1 -use_counters=0 -max_len=20000
        tar --sort=name --mtime=@0 --owner=0 --group=0 --numeric-owner \
            --mode=u=rwX,go=rX -C "$picked" -cJf "seeds/$target.tar.xz" .
        echo "$target: $(find "$picked" -type f | wc -l) files, $(du -sb "$picked" | cut -f1) bytes"
        rm -r "$picked" "$packed"
    done
    ;;
*)
    sed -n '2,9s/^# \{0,1\}//p' seeds.sh
    exit 2
    ;;
esac
