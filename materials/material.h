/* Materials: what things are. Every figure has its published source beside it in the .c file. */
#ifndef LASTWATER_MATERIAL_H
#define LASTWATER_MATERIAL_H

#include "materials/phase_curve.h"

typedef enum { ICE_ANDERSSON_INABA, ICE_YEN, ICE_FUKUSAKO, ICE_PRINGLE, ICE_SLACK } ice_law;

typedef struct material {
  char name[64];
  double density;       /* kg/m3 by which mesh volume turns into mass (water: ice's at 0 degC, for both phases)  */
  double latent_heat;   /* J/m3 of mesh volume released between liquid_enthalpy and solid_enthalpy, 0 if none     */
  phase_curve curve;    /* owned */
  char source[192];     /* where the figures come from, for reports */
} material;

void material_release(material *m);

/* Water and ice, meshed at the frozen size: density of ice at 0 degC for both phases, isothermal at
 * freezing_temperature (0 degC unless a check asks otherwise). c(T), k(T) of both phases per materials/water.c. */
status material_water(material *out, ice_law law, double freezing_temperature, message *msg);

/* A solid of the table by name ("aluminium 3003", "hdpe", "xps", ...). STATUS_BAD_INPUT names the nearest. */
status material_solid(material *out, const char *name, message *msg);
size_t material_num_solids(void);
const char *material_solid_name(size_t index);
bool material_solid_attacked_by_chloride(const char *name); /* aluminium, galvanised steel, brass, ... */

/* A solid of constant properties: W/(m K), kg/m3, J/(kg K). */
status material_constant(material *out, const char *name, double conductivity, double density, double specific_heat,
                         message *msg);
/* Isothermal freezing with constant properties in each phase (the exact checks): SI per kg, one density. */
typedef struct {
  double density, solid_conductivity, solid_specific_heat, liquid_conductivity, liquid_specific_heat;
  double latent_heat;          /* J/kg */
  double freezing_temperature; /* degC */
} constant_phases;
status material_constant_phases(material *out, const char *name, const constant_phases *p, message *msg);

/* User tables against temperature: rows rising in T; conductivity W/(m K), volumetric_heat_capacity J/(m3 K) (sensible only),
 * liquid_fraction 0..1 never falling (two rows of equal T make an isothermal step), latent_heat J/m3. Linear between rows;
 * the end rows are continued. H = integral of c dT + latent_heat * (liquid_fraction - 1), 0 for the liquid at 0 degC. */
typedef struct {
  size_t num_rows;
  const double *temperature, *conductivity, *volumetric_heat_capacity, *liquid_fraction;
  double latent_heat;
  double density; /* kg/m3 */
} material_table;
status material_from_table(material *out, const char *name, const material_table *table, message *msg);

#endif
