/* What a run found: plain records that io/ writes and draws. SI units, degC. NAN: not known or not asked
 * for, and then left out of every file. Owned by the run that made them; positions are {r, 0, z} or {x, y, z}. */
#ifndef LASTWATER_RESULTS_H
#define LASTWATER_RESULTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "solver/rig.h"

typedef struct {
  double parted_at; /* s from time zero, when it parted from its parent (root: start of the freeze) */
  double closed_at; /* s, when its last liquid path to an open surface froze; NAN: never closed before it vanished */
  double last_at;   /* s, when its last water froze; NAN: still liquid        */
  double mass;      /* kg of water in it when it parted                       */
  double closed_mass; /* kg when it closed; NAN                               */
  double position[3]; /* of its last water                                    */
  double distance;    /* m from its last water to the nearest surface of the body */
  double pressure;    /* Pa that its freezing puts on the ice round it, just after it closed; NAN: not trapped (pocket_pressure.h) */
  double skin_tension;/* Pa at the nearest surface then                       */
  double crack_index; /* skin tension over strength: below 0.5 none, to 1 possible, above likely */
  bool trapped;
  int parent;       /* index, -1 for a root                                   */
} pocket;

enum { CLEAR_TENTHS = 10 };
/* Clear, hazy and white ice, of a body that asks for it: extinction below 1, from 1 to 30, above 30 per m. */
typedef struct {
  bool present;
  double fraction, hazy_fraction, white_fraction; /* shares of the ice                                     */
  double fraction_low, fraction_high;  /* clear, if bubbles form sooner and the film is thicker, or the reverse */
  double white_low, white_high;        /* the same of the white share ...                                       */
  double stop_time_low, stop_time_high;/* ... of stop_time, s; NAN: never, or from the start                    */
  double piece_smallest[3], piece_largest[3]; /* ... and of piece_size, m; all 0: no piece                      */
  double onset_time, onset_share;      /* s from the start of the freeze stage, frozen share: first bubbles; NAN: none */
  double stop_time, stop_share;        /* when to pour off what is left: no more clear ice is near; NAN: never */
  double salt_time, salt_share;        /* when minerals begin to be shut in; NAN: never                    */
  double renew_time, renew_share;      /* from when on fresh water in the core would help (clouding.h); NAN: never */
  double renewed_fraction;             /* clear, if all liquid were then exchanged for water as poured; NAN */
  double growth_speed[CLEAR_TENTHS], growth_limit[CLEAR_TENTHS]; /* m/s of ice, mean while each tenth of the water froze, and up to which it
                                          would have stayed clear; NAN: that tenth did not freeze           */
  double white_position[3], white_from[3], white_to[3]; /* m, of the white ice (clear_white.h); NAN: none  */
  double void_volume;                  /* m3 of gas (0 degC, 101325 Pa) left with the last water           */
  double piece_volume;                 /* m3 of the largest clear piece; 0: none                           */
  double piece_size[3];                /* m: radius, 0, height about the axis; or edges along x, y, z       */
  double piece_low[3], piece_high[3];  /* m: its corners                                                   */
  double optical_depth[3];             /* straight through the middle (clear_view.h): along x, y, z; or across the axis, NAN, down it */
  double reflectance[3];               /* share of light that a slab as thick and as cloudy sends back     */
  double books_error;                  /* of air and minerals, relative                                    */
  size_t num_clamped;                  /* nodes whose front speed was unknown or out of range              */
  size_t num_visits;                   /* how often a node was looked at: what it cost                     */
} clear_result;

typedef struct {
  char name[RIG_NAME];
  bool complete;
  double freeze_time;          /* s from the start of the freeze stage to its last liquid; NAN  */
  double fraction;             /* ice / water at the end of that stage                          */
  double mark[3];              /* s to 0.5, 0.9, 0.99 frozen; NAN                               */
  double last_position[3];
  double last_time;            /* s from the start of the freeze stage                          */
  bool last_trapped;
  double last_distance;        /* m from the last liquid to the nearest surface of the body     */
  double mass, level_rise;     /* kg; m the free surface rises (expelled / area when capped)    */
  double dome_volume, dome_height; /* m3, mean m: what is shut in swells by it, as dome, bulge or crack; NAN: nothing was shut in */
  double crack_index;          /* the worst of its pockets; NAN: none trapped                   */
  size_t num_pockets;
  pocket *pockets;             /* [0] is the root                                               */
  clear_result clear;
} body_result;

typedef enum { DRAW_FREE, DRAW_STIFF, DRAW_LOCKED } draw_verdict;
/* Can the mould be drawn, with the salt moving one way. */
typedef struct {
  bool present;
  salt_mode mode;
  draw_verdict draw;           /* by area-weighted ice share at wetted walls of moulds        */
  double ice_at_wall;          /* that share                                                  */
  bool bridged;                /* ice joins a coil to the mould                               */
  double force_low, force_high;/* N, besides the weight                                       */
  double free_above;           /* degC: at a bath held at this or above it is free            */
  double salt_to_add;          /* kg of anhydrous salt that make it free as cold as it is; 0 when it is free, NAN: past the eutectic */
} draw_answer;
typedef struct {
  char name[RIG_NAME];
  double mass_fraction;        /* of the liquid, end of the freeze stage   */
  double freezing_onset;       /* degC at the initial strength             */
  double ice_fraction_mean, ice_fraction_max; /* by mass                   */
  bool touches_mould;
  draw_verdict draw;           /* the worse of the two answers                           */
  double ice_at_wall;          /* of that answer                                         */
  draw_answer answer, other;   /* the worse; a still bath: with the salt moving the other way */
  double draft;                /* degrees that the mould's wall leans out going up; below 0: inward */
  bool parallel, reversed;     /* its wall does not part by itself; somewhere it leans inward       */
  double other_freeze_time;    /* s, of the body in it that froze last, the other way; NAN          */
  double mean_temperature;     /* degC at the end                                       */
  double salt_error;           /* still and mixed: salt found over salt put in, minus 1; NAN */
  double water_taken;          /* kg from the air through its open surface; below 0: lost */
  double coil_ice, coil_ice_most; /* m of ice on the coil's tubes, mean and thickest, end of the freeze stage; 0: none, or it floats */
  double coil_ice_resistance;  /* K/W: what each watt that the coil takes falls through that ice; 0: some tube is bare */
} bath_result;

typedef struct { double mean, low, high; } spread3;
typedef struct {
  bool present;
  spread3 evaporating, condensing;   /* degC over the freeze stage */
  spread3 suction, discharge;        /* Pa absolute                */
  double heat, work;                 /* J                          */
  double mean_power;                 /* W                          */
  double running;                    /* s with the compressors running */
  double gas_high;                   /* degC, hottest gas leaving a compressor; NAN */
} plant_result;

/* What the plant's figures mean: for the whole run up to the end of the judged stage. NAN: not known. */
enum { PLANT_ACCOUNT_SHARES = 8 };
typedef struct {
  bool present;
  double performance;          /* heat taken over power drawn                                 */
  double energy, energy_per_kg;/* J of electricity, and per kg of ice; none without ice       */
  double price;                /* of all that, by the tariff                                  */
  double running_current, starting_current; /* A at the warmest it ran                        */
  double running_share;        /* of the time                                                 */
  size_t num_shares;
  struct { char name[RIG_NAME]; double share, power, motor_load; } shares[PLANT_ACCOUNT_SHARES]; /* at the mean temperatures */
} plant_account;

/* From when on the plant could have stood and the stored cold still have ended the first freeze. */
typedef struct {
  bool present;
  double at;                   /* s from the start of the freeze stage; its whole time when the plant is needed to the end */
  double within;               /* s: how closely `at` is known; it is on the safe side */
  double freeze_time;          /* s from the start of the stage to the last liquid, switched off then                 */
  double spared, energy_spared;/* s of plant, J of electricity                                                        */
} switch_off_result;

/* Heat moved, J, positive into the ice-side system; each integrated from its own face fluxes. */
typedef struct { char name[64]; double joules, latent; } ledger_entry; /* latent: of what a liquid stored, that of ice melted (frozen: below 0) */
typedef struct {
  size_t num;
  ledger_entry *entries;       /* paths first (boundary terms), then stored enthalpy changes by part */
  size_t num_paths;            /* how many of them are paths                                          */
  double residual_relative;    /* (sum of paths - change of stored enthalpy) / heat moved (ledger.h: where next to none moves) */
} heat_ledger;

/* One freeze among several. */
typedef struct {
  bool present, complete;
  double time, fraction, mark[3]; /* s from the start of its stage; NAN */
} stage_freeze;
/* The ice lets go of its mould. */
typedef struct {
  bool present;
  double time;                 /* s from the start of its stage; NAN: not within it  */
  double heat;                 /* J that came into the rig                           */
  double ice_lost;             /* kg of ice that melted                              */
  double film_mean, position[3]; /* m at its end; where it let go last               */
} release_result;
/* A piece out of its mould. */
typedef struct {
  bool present;
  double time;                 /* s from the start of its stage; NAN: there is ice left */
  double mark[3];              /* s to half, nine tenths, 99 % melted; NAN              */
  double mass_start, mass_end; /* kg                                                    */
  double mean_temperature;     /* degC of the ice at the end; NAN: gone                 */
  double pool_temperature;     /* degC at the end; NAN: no pool                         */
  double pool_ice;             /* kg of the pool that froze; NAN: no pool, or one that stays as it is */
  double surface_error;        /* share of the mass by which the rebuilt surface missed it */
  double crack_index;          /* tension by the change of surroundings over strength   */
  double warmest_start;        /* degC: ice this warm would stay below half its strength */
  double tempering;            /* s until its middle follows its skin                   */
} piece_result;

typedef struct {
  char name[RIG_NAME];
  stage_kind kind;
  stage_freeze freeze;
  release_result release;
  piece_result piece;
  double start_at, end_at;     /* s */
  char ended_by[RIG_NAME];
  heat_ledger ledger;
  plant_result plant;
} stage_result;

/* count > 1: so many alike within the stage, the first `at`, the last at `last_at`. */
typedef struct { double at; char stage[RIG_NAME], what[RIG_NAME], where[RIG_NAME]; double value; double last_at, count; } run_event;

typedef struct {               /* columns over time; column 0 is time */
  size_t num_columns, num_rows, capacity;
  char (*name)[64];            /* e.g. "time", "water.frozen_share", "plant.evaporating", "probe.core" */
  char (*unit)[16];            /* UDUNITS text: "s", "1", "degC", "W" */
  double *values;              /* [num_rows * num_columns], row-major */
} time_series;

typedef struct results {
  size_t num_bodies;  body_result *bodies;
  size_t num_baths;   bath_result *baths;
  size_t num_stages;  stage_result *stages;
  size_t num_events;  run_event *events;
  size_t num_warnings; char (*warnings)[512];
  int last_body;               /* index of the body that froze last, -1: none */
  int contact_bath;            /* bath that touches its mould, -1: none       */
  heat_ledger ledger;          /* all stages                                  */
  plant_result plant;          /* the freeze stage                            */
  plant_account account;       /* of the plant                                */
  switch_off_result switch_off;
  time_series series;
  /* Maps, one value per mesh node, NAN where not frozen or not water */
  size_t num_nodes;
  const double *freeze_time;   /* s from time zero: the front passed the node's centre            */
  const double *solid_time;    /* s: its last liquid went                                        */
  double *front_speed;         /* m/s                                                             */
  int32_t *pocket;             /* index into its body's pockets, -1                               */
  double *gas_fraction;        /* m3 of bubbles per m3; NULL when no body asks for clear ice      */
  double *clarity;             /* 1/m, extinction of light by bubbles; NULL like gas_fraction     */
  double *minerals;            /* kg per m3 of ice that it took up; NULL like gas_fraction         */
  double *clear_speed;         /* m/s of growth up to which the ice would have stayed clear there, then; NULL like gas_fraction */
  /* Cost, for provenance and bench */
  size_t num_steps, num_rejected, num_stages_taken;
} results;

#endif
