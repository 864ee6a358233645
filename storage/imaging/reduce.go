package imaging

import (
	"context"
	"image"
	"math"
)

// raster is a picture read row by row as samples of 0 to 255 in one channel (gray) or three (RGB), opaque.
type raster struct {
	width, height, channels int
	row                     func(y int, dst []float32) // fills width*channels samples
}

// taps are the weights with which source samples from first on make one result sample; they sum to 1.
type taps struct {
	first   int
	weights []float32
}

// tent gives the weights of a triangle filter from n samples to m <= n: each result sample averages the stretch it covers, with weights
// falling off linearly to the centers of its neighbors. For line art this keeps the tone of hatching, which filters with a fixed
// number of taps turn into bars.
func tent(n, m int) []taps { return tentWithin(n, 0, float64(n), m) }

// tentWithin is tent for the stretch of the n samples that begins at from and is long samples long, both counted from the edge of the first sample.
func tentWithin(n int, from, long float64, m int) []taps {
	scale := max(long/float64(m), 1)
	out := make([]taps, m)
	for i := range out {
		center := from + (float64(i)+0.5)*long/float64(m) - 0.5
		first := min(max(int(math.Ceil(center-scale)), 0), n-1)
		last := max(min(int(math.Floor(center+scale)), n-1), first)
		w := make([]float32, 0, last-first+1)
		sum := 0.0
		for x := first; x <= last; x++ {
			v := max(1-math.Abs(float64(x)-center)/scale, 0)
			sum += v
			w = append(w, float32(v))
		}
		if sum == 0 { // the stretch reaches beyond the last sample, which goes on
			w[0], sum = 1, 1
		}
		for k := range w {
			w[k] /= float32(sum)
		}
		out[i] = taps{first, w}
	}
	return out
}

// reduce scales src down to width by height, to 8 bits.
func reduce(ctx context.Context, src raster, width, height int) (image.Image, error) {
	out := newFlat(width, height, src.channels, 8)
	err := resample(ctx, src, tent(src.width, width), tent(src.height, height), out.setRow)
	return out.image(), err
}

// resample weighs the samples of src in one pass over its rows, and gives each row of the result once. Memory is that of the rows under way as float32.
func resample(ctx context.Context, src raster, across, down []taps, setRow func(y int, v []float32)) error {
	height := len(down)
	line := make([]float32, src.width*src.channels)
	thin := make([]float32, len(across)*src.channels)
	sums := make([][]float32, height)
	from := 0 // first result row not finished
	for y := range src.height {
		if err := ctx.Err(); err != nil {
			return err
		}
		src.row(y, line)
		narrow(line, thin, across, src.channels)
		for j := from; j < height && down[j].first <= y; j++ {
			k := y - down[j].first
			if k >= len(down[j].weights) {
				continue
			}
			if sums[j] == nil {
				sums[j] = make([]float32, len(thin))
			}
			addScaled(sums[j], thin, down[j].weights[k])
			if k == len(down[j].weights)-1 {
				setRow(j, sums[j])
				sums[j] = nil
			}
		}
		for from < height && down[from].first+len(down[from].weights) <= y+1 {
			from++
		}
	}
	return nil
}

func addScaled(sum, v []float32, w float32) {
	v = v[:len(sum)]
	for i := range sum {
		sum[i] += w * v[i]
	}
}

func narrow(line, thin []float32, across []taps, channels int) {
	if channels == 1 {
		for i, t := range across {
			s := float32(0)
			src := line[t.first : t.first+len(t.weights)]
			for k, w := range t.weights {
				s += w * src[k]
			}
			thin[i] = s
		}
		return
	}
	for i, t := range across {
		var r, g, b float32
		src := line[3*t.first : 3*(t.first+len(t.weights))]
		for k, w := range t.weights {
			r += w * src[3*k]
			g += w * src[3*k+1]
			b += w * src[3*k+2]
		}
		thin[3*i], thin[3*i+1], thin[3*i+2] = r, g, b
	}
}

// fit gives the size at which the longer edge is at most edge pixels; pictures are never enlarged.
func fit(width, height, edge int) (int, int) {
	long := max(width, height)
	if long <= edge {
		return width, height
	}
	scale := func(v int) int { return max(1, int(math.Round(float64(v)*float64(edge)/float64(long)))) }
	return scale(width), scale(height)
}
