/* summary.json: the answer for programs. SI, the unit in the key's suffix; what is not known is absent, never a made-up zero.
 * *_time_s is a duration from the start of its stage, *_at_s is from time zero of the run.
 *
 *   format          1; rises only when a key is removed or changes meaning
 *   provenance      program, started, wall_s, threads, host: differs between equal runs; skipped by every comparison
 *   freeze          complete, time_s, fraction, marks_s {"0.5", "0.9", "0.99"}           of the last body to freeze
 *   last_liquid     position_m ([r, z] or [x, y, z]), time_s, trapped, distance_to_surface_m
 *   pockets[]       parted_at_s, closed_at_s, last_at_s, mass_kg, position_m, trapped, parent (absent: it is the first)
 *   clear           fraction, hazy_fraction, white_fraction (of the ice), fraction_low, fraction_high (clear, if bubbles form sooner or
 *                   later), largest_piece_m ([radius, height] about the axis, or [x, y, z] edges), largest_piece_low_m, largest_piece_high_m
 *                   (its corners), onset_time_s, onset_fraction (frozen share at the first bubbles), stop_time_s, stop_fraction (pour off
 *                   what is left), minerals_time_s, minerals_fraction (minerals begin to be shut in), void_m3 (air left with the last
 *                   water, at 0 degC and 101325 Pa); absent where not asked for
 *   bath            mass_fraction, freezing_onset_C, ice_fraction_mean, ice_fraction_max, salt_residual_relative (still and mixed: salt
 *                   found over salt put in, minus 1), draw (free | stiff | locked; where it
 *                   touches a mould)                                                      of the bath that touches the mould
 *   plant           evaporating_C, condensing_C, suction_Pa, discharge_Pa, each with _min and _max; heat_J, work_J, mean_power_W
 *   ledger          paths and stored heat by name, J, positive into the ice-side system; residual_relative (of the heat moved, which counts as
 *                   at least the amount of which the rounding of the heat held is 1e-9: solver/ledger.h)
 *   bodies[]        name, mass_kg, level_rise_m, freeze, last_liquid, pockets, clear
 *   baths[]         name, then the keys of bath
 *   stages[]        name, kind, start_at_s, end_at_s, ended_by, ledger, plant
 *   events[]        at_s, stage, what, where, value
 *   band            with run --band: the same tree with [low, middle, high]; see band_tree.h
 *   warnings[]      text */
#ifndef LASTWATER_SUMMARY_JSON_H
#define LASTWATER_SUMMARY_JSON_H

#include "solver/results.h"
#include "solver/rig.h"

#define SUMMARY_JSON_NAME "summary.json"
enum { SUMMARY_JSON_FORMAT = 1 };

typedef struct {
  char program[64]; /* name and version      */
  char started[32]; /* UTC, ISO 8601         */
  char host[128];
  double wall;      /* s, of the computation, over all sittings */
  int threads;
} provenance;

/* Program, host and the present time; wall and threads are the caller's. */
void summary_json_provenance(provenance *p);

/* *text is allocated, ends with a line end; free() it. STATUS_FAILED when a figure is infinite or a ledger names a path twice:
 * the key is named and nothing is made. */
status summary_json_text(char **text, const rig *r, const results *res, const provenance *p, message *msg);

#endif
