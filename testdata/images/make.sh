#!/bin/sh
# Makes the fixtures of this folder anew. Needs libvips-tools (8.14 made the committed files). Other versions may give other bytes.
set -e
cd "$(dirname "$0")"
t=$(mktemp -d)
trap 'rm -rf "$t"' EXIT
vips grey "$t/x.tif" 96 64 --uchar
vips rot "$t/x.tif" "$t/r.tif" d90
vips resize "$t/r.tif" "$t/y.tif" 1.5 --vscale 0.666666666666 --kernel linear
vips gaussnoise "$t/n.v" 12 8 --mean 128 --sigma 50
vips cast "$t/n.v" "$t/n8.v" uchar
vips resize "$t/n8.v" "$t/z.tif" 8 --kernel cubic
vips bandjoin "$t/x.tif $t/y.tif $t/z.tif" "$t/three.v"
vips copy "$t/three.v" "$t/rgb.tif" --interpretation srgb
vips relational_const "$t/z.tif" "$t/bw.tif" more 127
rgb=$t/rgb.tif

vips pngsave "$rgb" interlaced.png --interlace --strip
vips jpegsave "$rgb" baseline.jpg --Q 90 --strip
vips jpegsave "$rgb" progressive.jpg --interlace --Q 90 --strip
vips webpsave "$rgb" lossless.webp --lossless --strip
vips webpsave "$rgb" lossy.webp --strip
vips tiffsave "$rgb" rgb-lzw.tif --compression lzw --xres 11.8110236 --yres 11.8110236 --resunit inch --strip
vips tiffsave "$rgb" rgb-deflate.tif --compression deflate --predictor none --strip
vips tiffsave "$t/y.tif" gray-packbits.tif --compression packbits --strip --xres 23.6220472 --yres 23.6220472 --resunit cm
vips tiffsave "$rgb" rgb-tiled.tif --tile --tile-width 32 --tile-height 32 --compression lzw --strip
vips tiffsave "$rgb" bigtiff.tif --bigtiff --compression deflate --strip
vips tiffsave "$rgb" jpeg-in-tiff.tif --compression jpeg --Q 75 --strip
vips tiffsave "$rgb" zstd.tif --compression zstd --strip
vips tiffsave "$rgb" p3.tif --profile p3 --compression deflate
vips tiffsave "$t/bw.tif" bilevel-g4.tif --bitdepth 1 --compression ccittfax4 --strip --xres 23.6220472 --yres 23.6220472 --resunit inch
vips tiffsave "$t/bw.tif" bilevel-g4-white.tif --bitdepth 1 --miniswhite --compression ccittfax4 --strip
vips icc_transform "$rgb" "$t/cmyk.tif" cmyk
vips tiffsave "$t/cmyk.tif" cmyk.tif --strip --compression deflate
vips jpegsave "$t/cmyk.tif" cmyk.jpg --strip --Q 90
vips colourspace "$rgb" "$t/lab.v" labs
vips tiffsave "$t/lab.v" lab.tif --strip --compression deflate
