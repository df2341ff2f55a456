/* The pictures of a case and of a run. Each is written whole or not at all; the path's ending chooses PNG, PDF or SVG.
 *
 * Failures: STATUS_FILE (cannot be written; the message has name and reason), STATUS_FAILED (no font installed),
 * STATUS_NO_MEMORY, STATUS_BAD_INPUT (nothing to draw). */
#ifndef LASTWATER_PICTURES_H
#define LASTWATER_PICTURES_H

#include "geometry/mesh.h"
#include "solver/results.h"
#include "solver/rig.h"
#include "solver/run.h"

/* The rig as understood: parts by name, coil, probes, levels, axes in mm. */
status pictures_section(const char *path, const rig *r, const mesh *m, message *msg);
/* When each place froze, hours from the start of the freeze stage, with the last water and trapped pockets. */
status pictures_freeze_time(const char *path, const rig *r, const mesh *m, const results *res, message *msg);
/* values per mesh node at `time`, s from time zero; unit "degC" (temperature) or "1" (liquid fraction of water and brine). */
status pictures_field(const char *path, const rig *r, const mesh *m, const char *title, const char *unit, const double *values,
                      double time, message *msg);
/* Frozen share against time with 50, 90, 99, 100 %, and the coolant's temperature below it. */
status pictures_frozen_share(const char *path, const results *res, message *msg);
/* Where the cold came from and where it went, kWh and shares. */
status pictures_ledger(const char *path, const results *res, message *msg);

/* All of them for a finished run, into dir/pictures/ (made when missing): section, freeze_time, temperature and liquid_fraction (at
 * the end), frozen_share, ledger; clarity and growth_speed where clear ice is asked for; ice_cut_away and last_pockets of a rig in
 * (x, y, z). A run without water has no freeze_time. Stops at the first failure. */
status pictures_draw(const char *dir, const rig *r, const run *x, message *msg);

/* What the pictures are drawn from; temperature and liquid_fraction per node at `time`, s, may be NULL (not drawn). */
typedef struct {
  const char *dir;
  const rig *rig;
  const mesh *mesh;
  const results *results;
  const double *temperature, *liquid_fraction;
  double time;
  const char *const *at;   /* [num_at] moments at which the ice is shown cut away (ice_moments_read); none: the usual ones */
  size_t num_at;
} pictures_source;
/* The same from stored results, for a report made again; format "png", "svg" or "pdf". */
status pictures_draw_stored(const pictures_source *from, const char *format, message *msg);

#endif
