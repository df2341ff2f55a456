/* The inside of a melting piece: what melt.c, melt_inside.c (heat within) and melt_skin.c (heat at the surface) share. */
#ifndef LASTWATER_MELT_PARTS_H
#define LASTWATER_MELT_PARTS_H

#include "solver/ice_surface.h"
#include "solver/melt.h"

enum { MELT_NO_CELL = -1, MELT_LATE = 6, MELT_STAGES_MOST = 24 };

enum { /* scalars, after distance[num_cells] and heat[num_cells] in the state */
  TIME, STEPS, GONE_AT, FIRST_MARK, FIRST_MASS = FIRST_MARK + MELT_MARKS, FIRST_HEAT, LATE_TIME, FACTOR = LATE_TIME + MELT_LATE, AREA, WATERLINE, POOL_TEMPERATURE, POOL_MASS, POOL_ICE,
  HEAT_AIR, HEAT_MOISTURE, HEAT_WATER, NUM_SCALARS
};

typedef struct { int32_t low, high; double conductance; } ice_link; /* between owners of heat; area / distance, m */

struct melt {
  const grid *grid;
  const material *ice;
  bool underside_covered;
  double images;               /* see melt_piece; everything below is one of them: the pool's mass and conductance are its share */
  melt_air air;
  melt_pool pool;
  size_t num_cells;
  ice_surface surface;
  double *state;               /* see above: what a checkpoint holds; the distance is copied to and from the surface */
  double *heat, *scalar;       /* into state; heat: J, 0 at the melting point, negative below */
  double *volume;              /* m3 of ice */
  double *temperature, *speed; /* degC, m/s */
  double *lumped;              /* m3: ice that shares the temperature of this cell, 0 where the cell has a host */
  int32_t *host;               /* MELT_NO_CELL: none */
  double *source;              /* J into each owner over the step, from the surface */
  double *rate, *start, *before, *now; /* for the stages of conduction: W, J */
  ice_link *links;
  size_t num_links;
};


/* melt_inside.c */
double melt_inside_cold(const material *ice, double temperature);            /* J/m3, 0 at the melting point, negative below */
double melt_inside_temperature(const material *ice, double heat_per_volume); /* degC */
double melt_inside_sum(const double *a, size_t n);
bool melt_inside_neighbour(const grid *g, size_t cell, int axis, int side, size_t *other);
double melt_inside_extent(const grid *g, size_t cell, int axis); /* m */
size_t melt_inside_owner(const melt *x, size_t cell);  /* the cell that holds its heat */
void melt_inside_place(melt *x);    /* chooses hosts, gathers heat at them, fills temperature */
void melt_inside_return(melt *x);   /* heat goes back to where the ice is now */
double melt_inside_coldest(const melt *x);        /* J/m3: least heat of all ice by volume */
void melt_inside_settle(melt *x, double least);   /* a cell whose ice has gone leaves its heat to others; least: see melt_inside_coldest */
bool melt_inside_is_cold(const melt *x);
void melt_inside_link(melt *x);     /* the conductances of this step */
double melt_inside_longest(melt *x);            /* s: what the largest number of stages reaches */
void melt_inside_warm(melt *x, double step);    /* conduction and source over the step */

/* melt_skin.c */
typedef struct {
  double air_film[2];  /* W/(m2 K): faces that look up, others */
  double water_film;
  double waterline;    /* m; -INFINITY without a pool */
} melt_skin_films;
melt_skin_films melt_skin_now(melt *x);
/* s: the surface passes a quarter of a cell (or of what is left) at most; a cold surface cell a quarter of its own time constant. */
double melt_skin_step(melt *x, const melt_skin_films *f, bool cold, double most);
/* Heat that reaches the surface at its start-of-step temperature: into the cold behind it (source), and the speed at which the rest melts.
 * sums: J over the step. What melts is booked when the surface has moved, less the surplus, J, that was in the ice already. */
void melt_skin_heat(melt *x, const melt_skin_films *f, double step, melt_flux *sums, double *surplus);

#endif
