#include "solver/bath_strength.h"

#include <math.h>

enum { BLOCK = 1024, MOST_TRIES = 100 };
static const double CLOSURE = 1e-12; /* of the salt */

/* Mass of salt-bearing liquid at a strength, kg; summed in blocks of fixed size and order. */
static double liquid_mass(const bath_strength_request *q, const brine_layer *layer)
{
  double total = 0.0;
  for (size_t first = 0; first < q->num; first += BLOCK) {
    const size_t end = first + BLOCK < q->num ? first + BLOCK : q->num;
    double block = 0.0;
    for (size_t i = first; i < end; i++) {
      block += brine_layer_share(layer, q->enthalpy[q->node[i]]) * q->volume[q->node[i]];
    }
    total += block;
  }
  return q->density * total;
}

static double total_mass(const bath_strength_request *q)
{
  double total = 0.0;
  for (size_t first = 0; first < q->num; first += BLOCK) {
    const size_t end = first + BLOCK < q->num ? first + BLOCK : q->num;
    double block = 0.0;
    for (size_t i = first; i < end; i++) {
      block += q->volume[q->node[i]];
    }
    total += block;
  }
  return q->density * total;
}

double bath_strength_salt(const bath_strength_request *request, double mass_fraction, message *msg)
{
  brine_layer layer;
  if (brine_mixed_layer(&layer, request->salt, request->source, mass_fraction, request->density, request->held_brine, msg) !=
      STATUS_OK) {
    return NAN;
  }
  return mass_fraction * liquid_mass(request, &layer);
}

/* Salt carried minus salt there is, over the latter. Rises with w: stronger liquid freezes later, so there is more of it. */
static double imbalance(const bath_strength_request *q, double w, message *msg)
{
  return bath_strength_salt(q, w, msg) / q->salt_mass - 1.0;
}

/* Widens from `guess` until the root is enclosed: low <= 0 <= high. False when the eutectic is still too weak. */
static bool enclose(const bath_strength_request *q, double guess, double strongest, double *low, double *f_low, double *high,
                    double *f_high, message *msg)
{
  double width = 1e-4 * strongest;
  *low = *high = fmin(fmax(guess, 1e-6 * strongest), strongest);
  *f_low = *f_high = imbalance(q, *low, msg);
  while (*f_low > 0.0) {
    *high = *low;
    *f_high = *f_low;
    *low = fmax(*low - width, 1e-3 * *low);
    *f_low = imbalance(q, *low, msg);
    width *= 4.0;
  }
  while (*f_high < 0.0 && *high < strongest) {
    *low = *high;
    *f_low = *f_high;
    *high = fmin(*high + width, strongest);
    *f_high = imbalance(q, *high, msg);
    width *= 4.0;
  }
  return *f_high >= 0.0;
}

/* Regula falsi with the Illinois step: keeps the root enclosed, converges faster than linearly. */
static double close_in(const bath_strength_request *q, double low, double f_low, double high, double f_high, double *left,
                       message *msg)
{
  double best = fabs(f_low) < fabs(f_high) ? low : high;
  int kept = 0; /* -1 low, 1 high: which end stayed last time */
  *left = fmin(fabs(f_low), fabs(f_high));
  for (int i = 0; i < MOST_TRIES && *left > CLOSURE; i++) {
    double w = high - f_high * (high - low) / (f_high - f_low);
    w = w > low && w < high ? w : 0.5 * (low + high);
    if (!(w > low && w < high)) {
      break; /* neighbouring numbers */
    }
    const double f = imbalance(q, w, msg);
    if (isnan(f)) {
      *left = NAN;
      break;
    }
    if (fabs(f) < *left) {
      *left = fabs(f);
      best = w;
    }
    if (f > 0.0) {
      high = w;
      f_high = f;
      f_low = kept == -1 ? 0.5 * f_low : f_low;
      kept = -1;
    } else {
      low = w;
      f_low = f;
      f_high = kept == 1 ? 0.5 * f_high : f_high;
      kept = 1;
    }
  }
  return best;
}

status bath_strength_find(bath_strength *out, const bath_strength_request *request, double guess, message *msg)
{
  const bath_strength_request *q = request;
  const double strongest = brine_eutectic(q->salt).mass_fraction;
  bath_strength found = {.mass = total_mass(q)};
  double low, high, f_low, f_high, left = 0.0;
  message why = {""};
  if (enclose(q, guess, strongest, &low, &f_low, &high, &f_high, &why)) {
    found.mass_fraction = close_in(q, low, f_low, high, f_high, &left, &why);
  } else {
    found.mass_fraction = strongest;
    found.excess_salt = -f_high * q->salt_mass;
  }
  if (isnan(f_low) || isnan(f_high) || isnan(left)) {
    return message_set(msg, STATUS_FAILED, "%s bath: strength between %g and %g %%: %s", brine_name(q->salt), 100.0 * low,
                       100.0 * high, why.text);
  }
  if (left > CLOSURE) {
    return message_set(msg, STATUS_FAILED, "%s bath: the salt balance stops at %.1e of the salt at a strength of %.6g %% (limit %.0e)",
                       brine_name(q->salt), left, 100.0 * found.mass_fraction, CLOSURE);
  }
  found.ice_mass = found.mass - (q->salt_mass - found.excess_salt) / found.mass_fraction;
  *out = found;
  return STATUS_OK;
}
