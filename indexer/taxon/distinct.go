package taxon

// Distinctness holds the indices of taxonomic diversity of Clarke & Warwick for
// one sample.
type Distinctness struct {
	// Delta is the mean distance of two individuals drawn at random (taxonomic diversity).
	Delta float64
	// DeltaStar is the same for two individuals of different species (taxonomic
	// distinctness).
	DeltaStar float64
	// DeltaPlus is the mean distance of two species, abundances disregarded (average
	// taxonomic distinctness), and LambdaPlus the variance of those distances.
	DeltaPlus, LambdaPlus float64
}

// Distinct computes the indices from abundances and the distances of each pair,
// as vegan 2.6-4 and Clarke & Warwick 1999 define them. Entries without
// individuals don't count as species. Values are 0 where there is nothing to divide by.
func Distinct(abundance []float64, omega func(i, j int) float64) Distinctness {
	var total, weighted, cross, sum, squares, pairs float64
	for i, xi := range abundance {
		total += xi
		for j := i + 1; j < len(abundance); j++ {
			if xi <= 0 || abundance[j] <= 0 {
				continue
			}
			w := omega(i, j)
			weighted += w * xi * abundance[j]
			cross += xi * abundance[j]
			sum += w
			squares += w * w
			pairs++
		}
	}
	var d Distinctness
	if total > 1 {
		d.Delta = weighted / (total * (total - 1) / 2)
	}
	if pairs > 0 {
		d.DeltaStar = weighted / cross
		d.DeltaPlus = sum / pairs
		d.LambdaPlus = squares/pairs - d.DeltaPlus*d.DeltaPlus
	}
	return d
}
