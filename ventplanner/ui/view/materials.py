"""How surfaces look: a glassy skin that is densest where it turns away from the viewer, and calm solid cavities."""

from __future__ import annotations

import pyvista as pv

from ventplanner.ui.view.colours import Colours, rgb

# Where a smooth normal and the triangle's own differ a lot there is an edge, and the triangle's own is the truth.
_EDGES = """//VTK::Normal::Impl
  vec3 ownNormal = cross(dFdx(vertexVCVSOutput.xyz), dFdy(vertexVCVSOutput.xyz));
  ownNormal = normalize(ownNormal + vec3(0.0, 0.0, 1e-20));
  if (ownNormal.z < 0.0) ownNormal = -ownNormal;
  if (abs(dot(normalVCVSOutput, ownNormal)) < 0.82) normalVCVSOutput = ownNormal;
  float turned = 1.0 - clamp(abs(normalVCVSOutput.z), 0.0, 1.0);
"""
_GLASS = """  float dense = pow(turned, 2.8);
  opacity = mix(leastOpacity, mostOpacity, dense);
  diffuseColor = mix(diffuseColor, rimColour, dense);
  ambientColor = mix(ambientColor, rimColour * 0.35, dense);
"""
_SOLID = """  diffuseColor *= 1.0 - 0.30 * pow(turned, 1.5);
"""


def _prepare(actor: pv.Actor, code: str) -> None:
    shader = actor.GetShaderProperty()
    shader.AddFragmentShaderReplacement("//VTK::Normal::Impl", True, _EDGES + code, False)


def make_glass(actor: pv.Actor) -> None:
    """The outer skin: translucent where it faces the viewer, denser towards its outline. Only its near side shows."""
    _prepare(actor, _GLASS)
    style = actor.GetProperty()
    style.BackfaceCullingOn()
    style.SetAmbient(0.45)
    style.SetDiffuse(0.6)
    style.SetSpecular(0.0)
    # Below 1, so that it is drawn with the translucent; the shader says how much at each place.
    style.SetOpacity(0.5)


SKIN, SOLID_SKIN = 0.24, 0.88
"""Opacity of the skin where it faces the viewer: with something to be seen behind it, and without."""


def tint_glass(actor: pv.Actor, colours: Colours, least: float) -> None:
    """Colours of the skin, and its opacity where it faces the viewer."""
    actor.GetProperty().SetColor(*rgb(colours.skin))
    values = actor.GetShaderProperty().GetFragmentCustomUniforms()
    values.SetUniform3f("rimColour", rgb(colours.rim))
    values.SetUniformf("leastOpacity", least)
    values.SetUniformf("mostOpacity", 0.94)


def make_solid(actor: pv.Actor) -> None:
    """Inner surfaces: seen from both sides, coloured by point."""
    _prepare(actor, _SOLID)
    style = actor.GetProperty()
    style.SetAmbient(0.28)
    style.SetDiffuse(0.68)
    style.SetSpecular(0.05)
    style.SetSpecularPower(12.0)


SEEN_THROUGH = 0.16
"""Opacity of inner surfaces while the liquid in them is shown."""


def make_liquid(actor: pv.Actor) -> None:
    """Liquid at rest: solid, its surface a little brighter than what is seen through walls."""
    make_solid(actor)
    style = actor.GetProperty()
    style.SetAmbient(0.4)
    style.SetDiffuse(0.6)


def make_flat(actor: pv.Actor) -> None:
    """Sections: one colour, no light."""
    style = actor.GetProperty()
    style.LightingOff()
