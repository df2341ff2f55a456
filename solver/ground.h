/* What a floor on ground takes from what stands on it, by hand formulas: for the `floor` of a surface rule. W/(m2 K), lengths in m. */
#ifndef LASTWATER_GROUND_H
#define LASTWATER_GROUND_H

/* A disc that touches a wide slab or the ground: 4 r lambda over its area pi r^2 (Carslaw & Jaeger 1959, 8.2). Exact for half a space. A foot of another
 * shape counts as the disc of its area, r = sqrt(area / pi). */
double ground_disc(double area, double conductivity);

/* Slab on ground with air films above and below it (0.17 and 0.04 m2 K/W), ISO 13370, from memory: B' = area / (perimeter / 2),
 * d_t = wall + lambda (0.17 + insulation + 0.04); U = 2 lambda / (pi B' + d_t) ln(pi B' / d_t + 1) where d_t < B', else lambda / (0.457 B' + d_t).
 * wall: of the building round it, m; insulation: m2 K/W. */
typedef struct { double area, perimeter, wall, conductivity, insulation; } ground_slab;
double ground_slab_transmittance(const ground_slab *g);

#endif
