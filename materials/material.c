#include "materials/material.h"

#include "materials/material_solid.h"

void material_release(material *m)
{
  if (m)
    phase_curve_release(&m->curve);
}

size_t material_num_solids(void)
{
  return material_solid_count();
}
