/* Materials of constant properties: a solid that never freezes, and isothermal freezing with constant phases. */
#include <math.h>

#include "materials/material.h"

static bool positive(double x)
{
  return isfinite(x) && x > 0.0;
}

static status refuse(const char *name, const char *what, double value, const char *unit, message *msg)
{
  return message_set(msg, STATUS_BAD_INPUT, "%s: %s = %g %s; it must be finite and above 0", name, what, value, unit);
}

static void name_it(material *m, const char *name, const char *source)
{
  (void)snprintf(m->name, sizeof m->name, "%s", name);
  (void)snprintf(m->source, sizeof m->source, "%s", source);
}

status material_constant(material *out, const char *name, double conductivity, double density, double specific_heat, message *msg)
{
  *out = (material){.density = density};
  if (!positive(conductivity))
    return refuse(name, "conductivity", conductivity, "W/(m K)", msg);
  if (!positive(density))
    return refuse(name, "density", density, "kg/m3", msg);
  if (!positive(specific_heat))
    return refuse(name, "specific heat", specific_heat, "J/(kg K)", msg);
  name_it(out, name, "as given");
  const double capacity = density * specific_heat;
  const phase_curve lines = {.solid_potential_slope = conductivity / capacity,
                             .liquid_potential_slope = conductivity / capacity,
                             .solid_temperature_slope = 1.0 / capacity,
                             .liquid_temperature_slope = 1.0 / capacity};
  return phase_curve_lines(&out->curve, &lines, -100.0, 100.0, msg);
}

status material_constant_phases(material *out, const char *name, const constant_phases *p, message *msg)
{
  *out = (material){.density = p->density, .latent_heat = p->density * p->latent_heat};
  const struct { const char *what; double value; const char *unit; } all[] = {
      {"density", p->density, "kg/m3"},
      {"solid conductivity", p->solid_conductivity, "W/(m K)"},
      {"solid specific heat", p->solid_specific_heat, "J/(kg K)"},
      {"liquid conductivity", p->liquid_conductivity, "W/(m K)"},
      {"liquid specific heat", p->liquid_specific_heat, "J/(kg K)"},
      {"latent heat", p->latent_heat, "J/kg"}};
  for (size_t i = 0; i < sizeof all / sizeof all[0]; i++)
    if (!positive(all[i].value))
      return refuse(name, all[i].what, all[i].value, all[i].unit, msg);
  if (!isfinite(p->freezing_temperature))
    return message_set(msg, STATUS_BAD_INPUT, "%s: freezing temperature = %g degC; it must be finite", name, p->freezing_temperature);
  name_it(out, name, "constant in each phase, as given");
  const double solid_capacity = p->density * p->solid_specific_heat, liquid_capacity = p->density * p->liquid_specific_heat;
  const phase_curve lines = {.solid_enthalpy = 0.0,
                             .liquid_enthalpy = out->latent_heat,
                             .freezing_temperature = p->freezing_temperature,
                             .solid_potential_slope = p->solid_conductivity / solid_capacity,
                             .liquid_potential_slope = p->liquid_conductivity / liquid_capacity,
                             .solid_temperature_slope = 1.0 / solid_capacity,
                             .liquid_temperature_slope = 1.0 / liquid_capacity};
  return phase_curve_lines(&out->curve, &lines, p->freezing_temperature - 60.0, p->freezing_temperature + 60.0, msg);
}
