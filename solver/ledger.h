/* The heat ledger of a stretch of time: what came in by each path, and what the parts stored.
 *
 * Paths are integrals of their own face fluxes (network, heat_step); the stored side is worked out from the states at both
 * ends. No term is a difference of others, so the residual is a real check. */
#ifndef LASTWATER_LEDGER_H
#define LASTWATER_LEDGER_H

#include "solver/heat_step.h"
#include "solver/results.h"

typedef struct {
  double *path_heat;  /* [num_paths] J since the start of the run */
  double *part_heat;  /* [num_parts] J stored (zero point: each material's own) */
  double *latent;     /* [num_parts] J of it that are of liquid: the less, the more of it is ice; 0 without a liquid */
  double *brought;    /* [LEDGER_BROUGHT] J that came by no surface, since the start: ledger_brought */
  double *rounds;     /* [1] how often the state was rounded since the start: evaluations of the heat balance */
} ledger_mark;

/* What is brought, each a path of its own where it is not zero. */
enum { LEDGER_POURED, LEDGER_DISSOLVED, LEDGER_DIPPED, LEDGER_BROUGHT };
extern const char *const ledger_brought[LEDGER_BROUGHT]; /* "water and ice poured", "salt dissolving", "warm water dip" */

/* A mark lies in ledger_mark_size doubles of the caller's. */
size_t ledger_mark_size(const network *net, const rig *r);
ledger_mark ledger_mark_in(double *memory, const network *net, const rig *r);
/* latent: [num_parts], as above. */
void ledger_mark_take(ledger_mark *mark, const network *net, const rig *r, const thermal_state *state, const double *latent,
                      const double brought[LEDGER_BROUGHT], double rounds);

/* The remainder is told relative to the heat moved. Where next to none moves it would be all rounding: an evaluation of a stage adds some eight terms of
 * the size of what is held, each rounded, so the heat moved counts as at least the amount of which that rounding is 1e-9: joules that are missing show
 * as more than 1e-9 as soon as they are more than rounding. A tub at rest for 300 h, 378 000 evaluations: 3.5e-4 J of 1.4 MJ, where 9.5e-4 J are allowed.
 * Fills out (entries owned by out; ledger_release) with what happened between two marks. */
status ledger_between(heat_ledger *out, const network *net, const rig *r, const ledger_mark *from, const ledger_mark *to,
                      message *msg);
void ledger_release(heat_ledger *l);

#endif
