/* A bare piece of ice that melts away: mass against time, without its meltwater.
 *
 * Every cell of the grid holds some ice and its heat below the melting point. What reaches the surface (melt_around.h) first warms the
 * ice - conduction inside by the Kirchhoff potential, in stages of RKL1 (Meyer, Balsara & Aslam 2012, Mon. Not. R. Astron. Soc.
 * 422:2102) - and where the surface stands at its melting point, it recedes (ice_surface.h) at
 *     v = q / (rho L);
 * the volume that it takes away is what the heat is booked for. Meltwater runs off at once. Under water the surface stands at the melting point, too, where
 * colder ice takes more than the water brings: then water freezes on it, which counts as ice of the pool and not of the piece. A cell less than half full shares the temperature of the ice behind it. Ice that is cut off from the rest
 * goes on melting where it is. */
#ifndef LASTWATER_MELT_H
#define LASTWATER_MELT_H

#include "geometry/grid.h"
#include "materials/material.h"
#include "solver/melt_around.h"

enum { MELT_MARKS = 3 }; /* half, nine tenths, 99 % melted */

typedef struct {
  const grid *grid;          /* borrowed */
  const material *ice;       /* borrowed: water and ice */
  const double *volume;      /* [num_cells] m3 of ice, 0 .. volume of the cell                                     */
  const double *temperature; /* [num_cells] degC, read where there is ice; above the melting point counts as at it */
  bool underside_covered;    /* it stands on something that lets no heat through: faces that look down get none    */
  double images;             /* how often the piece on the grid counts, with what lies behind mirror planes (mesh_images.h); 0: once */
} melt_piece;

typedef struct melt melt;
/* Copies the piece; the grid and the material must outlive it. */
status melt_create(melt **out, const melt_piece *piece, const melt_air *air, const melt_pool *pool, message *msg);
void melt_destroy(melt **x);

/* One step of at most `most` s (> 0). After the last ice nothing happens any more. */
status melt_advance(melt *x, double most, message *msg);
/* The air may change between steps (a table in time). */
void melt_set_air(melt *x, const melt_air *air);
/* The piece goes into other surroundings; the pool is a new one. _again: the same after a restore, when pool and piece are what they were. */
void melt_move(melt *x, const melt_air *air, const melt_pool *pool, bool underside_covered);
void melt_again(melt *x, const melt_air *air, const melt_pool *pool, bool underside_covered);

typedef struct {
  /* Masses, areas and heats are those of the whole piece, images behind mirror planes counted. */
  double time;                 /* s since melt_create                                        */
  bool gone;                   /* less than a millionth of the mass is left on the grid       */
  double gone_at;              /* s, by the law of the last ice while it was well resolved; NAN while there is ice */
  double mark[MELT_MARKS];     /* s; NAN while not reached                                    */
  double mass, first_mass;     /* kg of ice now, at the start                                */
  double area;                 /* m2 of bare surface at the last step                        */
  double mean_temperature;     /* degC, by mass                                              */
  double coldest;              /* degC                                                       */
  double surface_error;        /* share of the first mass by which the rebuilt surface missed it, spread over the piece */
  double waterline;            /* m; NAN without a pool                                      */
  double pool_temperature, pool_mass, pool_ice; /* degC, kg with its ice, kg; NAN without a pool */
  /* Heat into the ice, J: from air (convection, radiation), moisture, water; stored: what the ice and its meltwater took up. */
  double heat_air, heat_moisture, heat_water, heat_stored;
} melt_report;
melt_report melt_now(const melt *x);
const double *melt_volume(const melt *x);      /* [num_cells] m3 of ice, on this side of mirror planes */
const double *melt_temperature(const melt *x); /* [num_cells] degC      */

/* The whole state as plain numbers, for checkpoints: fixed length, same bits when restored. */
size_t melt_state_length(const melt *x);
size_t melt_state_length_for(size_t num_cells);
double *melt_state(melt *x);      /* owned by x; restored by writing it and calling melt_restored */
void melt_restored(melt *x);

#endif
