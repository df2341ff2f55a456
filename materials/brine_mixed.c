/* Brine whose liquid has one strength throughout the bath: ice grows where heat is drawn and gives its salt to the rest. */
#include <math.h>

#include "materials/brine_heat.h"

/* The strength whose density at 0 degC is `density`, within 0.1 % and the eutectic: where the salt's zero of enthalpy is put. A
 * density from elsewhere moves that zero only, which a bath of constant salt does not notice. */
static double strength_of_fill(brine_salt salt, double density)
{
  double low = 1e-3, high = brine_eutectic(salt).mass_fraction;
  const double sign = brine_density(salt, high, 0.0) > brine_density(salt, low, 0.0) ? 1.0 : -1.0;
  if (sign * (brine_density(salt, low, 0.0) - density) >= 0.0)
    return low;
  if (!(sign * (brine_density(salt, high, 0.0) - density) >= 0.0))
    return high;
  for (int i = 0; i < 60; i++) {
    const double middle = 0.5 * (low + high);
    if (sign * (brine_density(salt, middle, 0.0) - density) >= 0.0)
      high = middle;
    else
      low = middle;
  }
  return high;
}

static status prepare(brine_heat *out, brine_salt salt, brine_liquidus source, double mass_fraction, double density, double held,
                      mush_law mush, message *msg)
{
  if (!(held >= 0.05 && held <= 0.5))
    return message_set(msg, STATUS_BAD_INPUT, "%s: ice that holds %g of its mass as brine; the share must lie in 0.05 .. 0.5", brine_name(salt), held);
  /* The strength in hand is checked by the same rules as the reference. */
  const status s = brine_heat_init(out, salt, source, mush, density, mass_fraction, msg);
  return s != STATUS_OK ? s : brine_heat_init(out, salt, source, mush, density, strength_of_fill(salt, density), msg);
}

status brine_mixed(material *out, brine_salt salt, brine_liquidus source, double mass_fraction, double density, double held_brine,
                   mush_law mush, message *msg)
{
  *out = (material){.density = density};
  brine_heat heat;
  const status s = prepare(&heat, salt, source, mass_fraction, density, held_brine, mush, msg);
  if (s != STATUS_OK)
    return s;
  (void)snprintf(out->name, sizeof out->name, "%s brine %.4g %%, mixed", brine_name(salt), 100.0 * mass_fraction);
  (void)snprintf(out->source, sizeof out->source, "as closed brine; ice holds %.3g of its mass as brine (judgement, 0.05-0.5)", held_brine);
  return brine_heat_curve(&out->curve, &heat, mass_fraction, held_brine, &out->latent_heat, msg);
}

status brine_mixed_layer(brine_layer *out, brine_salt salt, brine_liquidus source, double mass_fraction, double density,
                         double held_brine, message *msg)
{
  brine_heat heat;
  const status s = prepare(&heat, salt, source, mass_fraction, density, held_brine, MUSH_MAXWELL, msg);
  if (s != STATUS_OK)
    return s;
  *out = (brine_layer){.held_brine = held_brine,
                       .onset = brine_onset(salt, source, mass_fraction),
                       .liquid_enthalpy = brine_heat_at_onset(&heat, mass_fraction, 1.0),
                       .held_enthalpy = brine_heat_at_onset(&heat, mass_fraction, held_brine)};
  return STATUS_OK;
}
