/* Brine whose salt stays where it is: every kilogram freezes by the lever rule on its own. */
#include <math.h>

#include "materials/brine_data.h"
#include "materials/brine_heat.h"

status brine_closed(material *out, brine_salt salt, brine_liquidus source, double mass_fraction, mush_law mush, message *msg)
{
  /* Water that fills the mesh is the liquid at the strength of the fill and 0 degC. */
  const double density = brine_density(salt, mass_fraction, 0.0);
  return brine_closed_at(out, salt, source, mass_fraction, mass_fraction, density, mush, msg);
}

status brine_closed_at(material *out, brine_salt salt, brine_liquidus source, double mass_fraction, double reference, double density, mush_law mush,
                       message *msg)
{
  const brine_data *d = brine_data_of(salt);
  *out = (material){.density = density};
  brine_heat heat;
  /* A strength without a density is refused for its strength, which brine_heat_init explains. */
  status s = brine_heat_init(&heat, salt, source, mush, isnan(density) ? 1000.0 : density, reference, msg);
  if (s != STATUS_OK)
    return s;
  if (!(brine_onset(salt, source, mass_fraction) > heat.eutectic_temperature - 1e-9))
    return message_set(msg, STATUS_BAD_INPUT, "%s brine of strength %g %%: beyond its ice line", brine_name(salt), 100.0 * mass_fraction);
  (void)snprintf(out->name, sizeof out->name, "%s brine %.4g %%", brine_name(salt), 100.0 * mass_fraction);
  (void)snprintf(out->source, sizeof out->source, "ice line: %s; liquid: %s",
                 d->pitzer && source == LIQUIDUS_TONER_CATLING ? "Toner & Catling 2017" : "Melinder 2010",
                 d->melinder ? "Melinder 2010" : "Laliberte 2009");
  return brine_heat_curve(&out->curve, &heat, mass_fraction, 1.0, &out->latent_heat, msg);
}
