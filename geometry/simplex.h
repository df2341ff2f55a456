/* Segments, triangles and tetrahedra that carry values, linear inside, and are divided where a value is zero.
 *
 * Dimension is data: a k-simplex has k + 1 vertices (k = 0: a point). In space of dimension d bodies are d-simplices
 * and surfaces (d - 1)-simplices; both are divided by the same function. */
#ifndef LASTWATER_SIMPLEX_H
#define LASTWATER_SIMPLEX_H

#define SIMPLEX_MAX_FIELDS 24

typedef struct {
  double x[3];                   /* m */
  double f[SIMPLEX_MAX_FIELDS];  /* values, m; as many as the caller uses */
} simplex_vertex;

typedef struct {
  int k;
  simplex_vertex v[4];
} simplex;

typedef struct {
  int num_inside, num_outside, num_facets;
  simplex inside[3], outside[3]; /* where the value is below and above zero                          */
  simplex facet[2];              /* (k - 1)-simplices where it is zero; none unless both sides exist */
} simplex_parts;

/* Divides s by the zero set of field `field`; all num_fields values are interpolated. Values within +-eps count as zero.
 * A simplex without a value above zero is wholly inside; without one below, or with zeros only, wholly outside.
 * The vertices on the cut have exactly 0 in that field. */
void simplex_divide(const simplex *s, int num_fields, int field, double eps, simplex_parts *parts);

double simplex_measure(const simplex *s); /* m, m2 or m3; 1 for a point */

#endif
