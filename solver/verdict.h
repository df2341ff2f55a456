/* Can the mould be drawn out of its bath, and when does the bath let go?
 *
 * By the ice share (mass) of the bath's nodes that touch the wetted wall of a mould, within one cell of it, weighted by wall area:
 * below 0.15 free, to 0.40 stiff, above locked (network and packing limits of slush; engineering judgement after the coherency of
 * solidifying alloys, 0.15 to 0.25 and 0.40). Under a layer of solid ice, as a stirred bath grows it, the wall counts as ice. Locked too where ice joins a coil to the mould without a gap, whatever the mean. */
#ifndef LASTWATER_VERDICT_H
#define LASTWATER_VERDICT_H

#include "solver/adjacency.h"
#include "solver/draw_force.h"
#include "solver/results.h"

#define VERDICT_STIFF 0.15
#define VERDICT_LOCKED 0.40

typedef struct {
  int bath;                      /* part index                                                                  */
  const uint8_t *is_mould;       /* [num_parts] 1: this part's wall (thin or meshed) is the mould                */
  const double *liquid_fraction; /* [num_nodes] by mass                                                          */
  const int32_t *coil_node;      /* [num_coil_nodes] nodes around tubes in the bath; may be NULL when there are none */
  size_t num_coil_nodes;
  const double *temperature;     /* [num_nodes] degC; may be NULL: then wall_temperature is NAN                 */
  const double *layer;           /* [num_interfaces] m of solid ice on each, which is locked; may be NULL: none       */
  double density;                /* kg/m3 of the brine, for the suction under the mould                          */
} verdict_request;

typedef struct {
  bool touches_mould;  /* else: free, nothing to hold                                    */
  draw_verdict draw;
  double ice_at_wall;  /* area-weighted share; 0 when it touches no mould                */
  double ice_worst;    /* largest share at any piece of wetted wall                      */
  bool bridged;        /* ice above VERDICT_LOCKED joins a coil to the mould             */
  double wall_temperature; /* degC, area-weighted mean of the brine at the wall          */
  draw_force force;    /* besides the weight; 0 .. 0 when it touches no mould            */
  bool lets_go;        /* every piece of wetted wall is below VERDICT_LOCKED, no bridge   */
} verdict_found;

status verdict_of_bath(verdict_found *out, const mesh *m, const adjacency *a, const verdict_request *request, message *msg);

#endif
