/* What is simulated: the rig, in SI units with temperatures in degC, fully resolved.
 *
 * io/ fills it from a case file; tests may fill it by hand. The solver reads it and owns none of it.
 * Nothing here knows of files, YAML or the terminal. */
#ifndef LASTWATER_RIG_H
#define LASTWATER_RIG_H

#include <stdbool.h>
#include <stddef.h>

#include "geometry/grid.h"
#include "geometry/mesh.h"
#include "geometry/shape.h"
#include "materials/brine.h"
#include "materials/material.h"
#include "materials/refrigerant.h"

enum { RIG_NAME = 48 };

/* A value that may change with time: linear between rows, the end rows continued. One row: constant. A daily swing comes on top:
 * swing cos(2 pi (t - peak) / 24 h). */
typedef struct {
  size_t num;
  double *time;  /* s, rising, from the start of the run */
  double *value;
  double swing;  /* half the difference between the highest and the lowest of a day; 0: none */
  double peak;   /* s from the start of the run to a highest */
} schedule;
double schedule_at(const schedule *s, double time); /* NAN when num == 0 (not given) */

typedef enum {
  PART_SOLID, /* conducts                                                                       */
  PART_WATER, /* a body of water: has an entry in bodies                                         */
  PART_BRINE, /* a bath: has an entry in baths                                                   */
  PART_HELD   /* held at a temperature (rod, jacket); conducts nothing, its surface is at `held` */
} part_kind;

typedef struct {
  char name[RIG_NAME];
  part_kind kind;
  const shape *region;     /* what it covers; later parts cover earlier ones                            */
  const shape *cavity;     /* not NULL: a wall of `thickness` around this cavity (region = the wall's solid) */
  double thickness;        /* m, walls only; thinner than two cells it is meshed as a thin wall            */
  mesh_floor floor;        /* walls only: its thickness where it is another than `thickness`               */
  const material *stuff;   /* NULL for PART_HELD                                                          */
  double initial_temperature; /* degC                                                                     */
  schedule held;           /* PART_HELD: surface (or coolant, with held_film) temperature, degC           */
  double held_film;        /* PART_HELD: W/(m2 K) between coolant and surface; 0: surface at `held`        */
} rig_part;

typedef enum { MOTION_NONE, MOTION_STILL, MOTION_STIRRED } motion_kind;
/* How liquid in a body moves (design: enhanced conductivity when still, one node when stirred). */
typedef struct {
  motion_kind kind;
  double stirring;             /* W/kg dissipated, MOTION_STIRRED                                     */
  double speed;                /* m/s past walls and tubes, MOTION_STIRRED by a pump; 0: by a stirrer */
  bool by_air;                 /* MOTION_STIRRED: by the air that is blown through it, without a stirrer */
  double film_coefficient;     /* W/(m2 K) at facing surfaces, overrides the correlation; NAN: computed  */
  double film_scale;           /* multiplies what the correlations of films give; 0: 1                */
  double horizontal_factor;    /* multiplies conductivity sideways, overrides; NAN: computed           */
  double vertical_factor;      /* upward, overrides; NAN: computed                                     */
  double coherency;            /* ice fraction at which slush stops moving, default 0.20               */
} motion;

/* What is dissolved in a body of water, when it is asked where the ice is clear. */
typedef struct {
  bool asked;
  bool aerated;          /* air is blown through it while it freezes                                 */
  double air;            /* m3 of gas at 0 degC, 101325 Pa per kg of water, as poured                 */
  double minerals;       /* kg/m3 as poured                                                           */
  double onset;          /* supersaturation at which bubbles form; 0: 2.5                              */
  schedule film;         /* m, still film before the front; num 0: from its motion                    */
} rig_clouding;

typedef struct {
  char name[RIG_NAME];
  int part;              /* index into parts                                                        */
  double mass;           /* kg of water filled in                                                   */
  double expelled;       /* m3 of frozen volume beyond the cavity (brim-full or closed mould), 0: none */
  bool open_top;         /* has a free surface to air                                               */
  double surface_level;  /* m, z of the (frozen) free surface                                       */
  motion flow;
  rig_clouding clouding;
} rig_body;

typedef enum { SALT_CLOSED, SALT_MIXED } salt_mode;
typedef struct {
  char name[RIG_NAME];
  int part;
  brine_salt salt;
  brine_liquidus liquidus;
  mush_law mush;
  salt_mode mode;
  bool both;              /* still: answered with the salt mixed too, by a second run (run_both) */
  double mass_fraction;   /* at the start                                  */
  double mass;            /* kg of brine in the bath                       */
  double held_brine;      /* share of brine held in `mixed` ice, default 0.20 */
  bool open_surface;      /* takes up or loses water to the room air       */
  motion flow;
} rig_bath;

/* Moist room air and what stands under the rig. */
typedef struct {
  schedule temperature;       /* degC                        */
  double relative_humidity;   /* 0..1                        */
  double pressure;            /* Pa absolute                 */
  double film;                /* W/(m2 K) on surfaces without a rule, convection and radiation together */
  schedule floor_temperature; /* degC; not given: the room's */
} rig_room;

typedef enum { FACES_ALL, FACES_TOP, FACES_BOTTOM, FACES_SIDE } face_choice;
typedef enum {
  SURFACE_FILM,      /* h (T - T_environment), environment = `temperature` or the room  */
  SURFACE_FIXED,     /* surface held at `temperature`                                   */
  SURFACE_INSULATED,
  SURFACE_FLOOR,     /* conductance per area to the floor temperature, W/(m2 K)          */
  SURFACE_CONTACT    /* between two parts: resistance, m2 K/W                            */
} surface_kind;
typedef struct {       /* a rule for interface elements; the last matching rule counts */
  surface_kind kind;
  int part;            /* index, as seen from side 0 or 1                        */
  int other;           /* index, or MESH_VOID                                   */
  face_choice faces;   /* by the normal pointing out of `part`: TOP n_z > 0.7, BOTTOM n_z < -0.7, SIDE else */
  schedule coefficient;/* W/(m2 K) or, for CONTACT, m2 K/W                       */
  schedule temperature;/* degC; not given: the room (or floor)                   */
  bool condensation;   /* add latent heat of room moisture below the dew point   */
  int stage;           /* 0: always; n: only in the nth stage, counted from 1, where it comes after all others */
} surface_rule;

typedef enum { COOLANT_FIXED, COOLANT_PLANT } coolant_kind;
/* A tube: turns of a helix given as rings (r, z), or in (x, y, z) the line it is bent along. Or channels all through a solid part (a plate, a rod, the
 * air of a freezer), which is then one temperature: `conductance` > 0, no tube. */
typedef struct {
  char name[RIG_NAME];
  size_t num_rings;
  double (*rings)[2];   /* m, {r, z} of each turn                                  */
  size_t num_points;    /* 0 in (r, z)                                              */
  double (*points)[3];  /* m, {x, y, z} of the middle of the tube                   */
  double tube_outer;    /* m, outer diameter                                       */
  double tube_wall;     /* m                                                       */
  double tube_conductivity; /* W/(m K)                                             */
  double inner_film;    /* W/(m2 K) on the inner area; 0: inner side at the coolant */
  double outer_film;    /* W/(m2 K) on the outer area, between tube and what surrounds it; 0: perfect contact */
  double superheated_share; /* of the length, 0..0.5                                */
  double superheated_film;  /* W/(m2 K)                                            */
  bool spread;          /* film spread over the cells it covers, instead of the well model */
  double length;        /* m of tube in all                                        */
  double conductance;   /* W/K from the refrigerant to all of `part`; 0: a tube      */
  int part;             /* index; outer_film is then between it and what it touches  */
  coolant_kind coolant;
  schedule temperature; /* degC, COOLANT_FIXED                                     */
} rig_coil;

typedef struct {
  char name[RIG_NAME];
  bool has_rating;            /* 10-coefficient rating for capacity and power       */
  double capacity[10], power[10]; /* W against (S, D) degC dew points                */
  double displacement;        /* m3/s swept, when !has_rating                       */
  double best_efficiency;     /* isentropic incl. motor, default 0.58               */
  bool made_for_other;        /* it was built for another refrigerant than the plant's: made_for */
  refrigerant_kind made_for;
  double running_current, starting_current; /* A; 0: not known                      */
} rig_compressor;
typedef struct {
  bool present;
  refrigerant_kind refrigerant;
  size_t num_compressors;
  rig_compressor *compressors;
  double condensing_temperature;  /* degC; NAN: from room air and condenser_conductance */
  double condenser_conductance;   /* W/K                                                 */
  double useful_superheat, suction_superheat, subcooling; /* K, defaults 5, 10, 5         */
  double suction_line_loss;       /* K of saturation temperature, default 1.5            */
  double cutout_gauge, restart_gauge; /* Pa gauge, low-pressure cut-out (default 0.2 bar) and restart */
  double high_cutout_gauge;       /* Pa gauge, high-pressure switch; 0: none               */
  double condenser_lag;           /* s in which the condenser warms after a start          */
  double hottest_gas;             /* degC of the gas leaving a compressor; 0: no limit     */
  double reversing_conductance;   /* W/K between room air and the coil that evaporates in reversed mode; 0: hot gas only */
  double voltage, socket_limit;   /* V, A; 0: not asked                                    */
  bool staggered_start;           /* compressors start one after the other                 */
  double tariff;                  /* price of a kWh; 0: not asked                          */
  double minimum_off;             /* s                                                   */
  bool switch_off;                /* asked: from when on could it stand, and the freeze still end (run_switch_off) */
  bool evens_out;                 /* at rest high and low side even out (a capillary tube): the low-pressure switch closes by itself */
  int thermostat_part;            /* part whose mean temperature is controlled; -1: none */
  double set_point, differential; /* degC, K                                             */
} rig_plant;

/* What is done. Pouring, drawing and salting happen at the start of their stage; from the first of draw, temper and melt on the piece is out of its
 * mould and marches by itself (melt.h), everything else stands as it was. */
typedef enum {
  STAGE_PRECOOL, STAGE_FREEZE, STAGE_HOLD,
  STAGE_FILL,      /* water (and pieces of ice) into a cavity that was empty until then, or that held an older fill           */
  STAGE_EXCHANGE,  /* a share of the liquid of a body is replaced by fresh water                                              */
  STAGE_POUR_OFF,  /* what is still liquid in a body runs out                                                                */
  STAGE_ADD_SALT,  /* into a bath                                                                                            */
  STAGE_POWER_OFF, /* no plant, no stirrer, no air                                                                            */
  STAGE_RELEASE,   /* the ice lets go of its mould                                                                            */
  STAGE_DRAW, STAGE_TEMPER, STAGE_MELT,
  STAGE_NUM
} stage_kind;
typedef enum {
  UNTIL_TIME, UNTIL_FROZEN, UNTIL_PART_BELOW, UNTIL_PART_ABOVE,
  UNTIL_RELEASED,  /* the film between ice and mould is `film` everywhere      */
  UNTIL_LETS_GO,   /* the bath holds no mould any more (verdict.h)             */
  UNTIL_MELTED     /* the piece has gone                                       */
} stage_end;
typedef enum { STAGE_PLANT_COOLS, STAGE_PLANT_HEATS, STAGE_PLANT_STANDS } stage_plant;

/* What a piece stands in once it is out of its mould. */
typedef struct {
  double wind;               /* m/s                                                                    */
  double film;               /* W/(m2 K) of the air, radiation included; NAN: worked out                */
  bool underside_covered;    /* stands on something that lets no heat through                           */
  bool pool;                 /* water round it                                                         */
  double pool_volume;        /* m3; 0: stays at its temperature                                        */
  double pool_temperature;   /* degC                                                                   */
  double pool_film;          /* W/(m2 K); NAN: worked out                                              */
  bool floating;             /* else held with the water at `level`                                    */
  double level;              /* m, z                                                                   */
} rig_surroundings;

typedef struct {
  char name[RIG_NAME];
  stage_kind kind;
  stage_end until;
  int part;              /* UNTIL_PART_*: whose mean temperature (in a piece stage: of the piece) */
  double temperature;    /* degC, UNTIL_PART_*                     */
  double limit;          /* s, longest duration; UNTIL_TIME: the duration, 0: done at once */
  /* while it lasts */
  stage_plant plant;
  bool changes_room, changes_set_point;
  double room;           /* degC, if changes_room                   */
  double set_point;      /* degC of the thermostat, if changes_set_point */
  bool stirrers_stand, air_off; /* air_off: none is blown through aerated water */
  /* at its start */
  int body;              /* index into bodies: fill, exchange, pour off; release, draw, temper, melt: whose ice; -1: none */
  double poured_temperature; /* degC                                */
  double share;          /* of the liquid that is replaced           */
  double pieces_mass, pieces_temperature; /* kg of ice among the fill, degC */
  int bath;              /* index into baths: add_salt, a dip; -1    */
  double salt_mass, salt_rest; /* kg of pure salt; kg of the rest of its bags: water bound in it */
  double salt_heat;      /* J that it lets go when it dissolves      */
  double film;           /* m, UNTIL_RELEASED                        */
  bool dips;             /* release: in a vessel of warm water as large as `bath` */
  double dip_temperature; /* degC, of that water at first            */
  rig_surroundings around; /* temper, melt                           */
} rig_stage;

/* Index of the first freeze, or of the last stage; num > 0. */
static inline size_t rig_stage_first_freeze(const rig_stage *stages, size_t num)
{
  for (size_t i = 0; i < num; i++)
    if (stages[i].kind == STAGE_FREEZE)
      return i;
  return num - 1;
}

static inline bool rig_stage_is_of_piece(const rig_stage *s) { return s->kind == STAGE_DRAW || s->kind == STAGE_TEMPER || s->kind == STAGE_MELT; }

/* Index of the stage at whose end bodies and baths are judged: the first freeze, or, where it goes on, the last that goes on so. It goes on in a later
 * freeze of the same water in its mould when it was not to end with the last liquid (a time or a temperature ended it), or when water is exchanged
 * between. Without a freeze, the last stage. */
static inline size_t rig_stage_judged(const rig_stage *stages, size_t num)
{
  size_t judged = rig_stage_first_freeze(stages, num);
  bool exchanged = false;
  for (size_t next = judged + 1; next < num && stages[judged].kind == STAGE_FREEZE; next++) {
    const stage_kind kind = stages[next].kind;
    if (kind == STAGE_FILL || kind == STAGE_POUR_OFF || kind == STAGE_RELEASE || rig_stage_is_of_piece(&stages[next]))
      break;
    exchanged = exchanged || kind == STAGE_EXCHANGE;
    if (kind != STAGE_FREEZE)
      continue;
    if (stages[judged].until == UNTIL_FROZEN && !exchanged)
      break;
    judged = next;
    exchanged = false;
  }
  return judged;
}

typedef struct { char name[RIG_NAME]; double point[3]; } rig_probe;

typedef enum { INTEGRATOR_STABILISED, INTEGRATOR_BDF } integrator_kind;
typedef struct {
  integrator_kind integrator;
  double tolerance;         /* stabilised: RMS of the error estimate over the latent heat (default 0.1); bdf: relative */
  double output_interval;   /* s between stored fields                                        */
  double series_interval;   /* s between rows of the series                                   */
  double checkpoint_interval; /* s of simulated time; 0: none                                 */
  double longest_step;      /* s; 0: no cap beyond the built-in ones                          */
  int threads;              /* 0: all                                                         */
} rig_control;

typedef struct rig {
  char title[128];
  grid *mesh_grid;          /* the grid to cut           */
  bool counts_images;       /* volumes and areas are those of the whole, with what lies behind one-sided mirror planes of the grid */
  size_t num_parts;     rig_part *parts;
  size_t num_bodies;    rig_body *bodies;
  size_t num_baths;     rig_bath *baths;
  size_t num_rules;     surface_rule *rules;
  size_t num_coils;     rig_coil *coils;
  size_t num_stages;    rig_stage *stages;
  size_t num_probes;    rig_probe *probes;
  rig_room room;
  rig_plant plant;
  rig_control control;
} rig;

#endif
