"""The surface to be kept clear in the view: hatched in ink, so that it is told from every colour by its lines."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyvista as pv
from vtkmodules.vtkCommonDataModel import vtkPlane
from vtkmodules.vtkRenderingCore import vtkPolyDataMapper

from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.ui.view.colours import Colours, rgb
from ventplanner.ui.view.shapes import COARSE_ABOVE, bin_size, coarsened, compacted, poly_data

# Lines of the screen, not of the surface: they look the same from everywhere, on triangles of every size.
_LINES = """//VTK::Normal::Impl
  float line = mod(gl_FragCoord.x + gl_FragCoord.y, 10.0);
  opacity = line < 2.5 ? onLine : between;
"""
_NONE = np.zeros((0, 3), np.int32)


class _Hatched:
    """An actor for some faces, with a stand-in where they are many."""

    def __init__(self, renderer: pv.Renderer, on_line: float, between: float) -> None:
        self.actor = pv.Actor()
        self.full, self.coarse = vtkPolyDataMapper(), vtkPolyDataMapper()
        for mapper in (self.full, self.coarse):
            mapper.SetInputData(pv.PolyData())
            mapper.ScalarVisibilityOff()
            # It lies on the skin: without this both would show in spots.
            mapper.SetResolveCoincidentTopologyToPolygonOffset()
            mapper.SetRelativeCoincidentTopologyPolygonOffsetParameters(-2.0, -2.0)
        self.actor.SetMapper(self.full)
        style = self.actor.GetProperty()
        style.LightingOff()
        style.BackfaceCullingOn()
        style.SetOpacity(0.5)  # below 1: drawn with the translucent; the shader says how much at each place
        shader = self.actor.GetShaderProperty()
        shader.AddFragmentShaderReplacement("//VTK::Normal::Impl", True, _LINES, False)
        values = shader.GetFragmentCustomUniforms()
        values.SetUniformf("onLine", on_line)
        values.SetUniformf("between", between)
        renderer.AddActor(self.actor)

    def show(self, vertices: FloatArray, faces: IntArray) -> None:
        if not len(faces):
            for mapper in (self.full, self.coarse):
                mapper.SetInputData(pv.PolyData())
            return
        points, own = compacted(vertices, faces)
        full = poly_data(points, own)
        self.full.SetInputData(full)
        few = len(own) <= COARSE_ABOVE // 4
        self.coarse.SetInputData(full if few else poly_data(*coarsened(points, own, bin_size(vertices, own))))


class Hatch:
    """What is marked, and the stroke that is being painted or erased. Lives in the thread of the frames."""

    def __init__(self, renderer: pv.Renderer) -> None:
        self._marked = _Hatched(renderer, 0.7, 0.08)
        self._stroke = _Hatched(renderer, 0.9, 0.4)
        self._both = (self._marked, self._stroke)
        self._shown: object = None
        self._colours: Colours | None = None

    def set_colours(self, colours: Colours) -> None:
        """Light or dark."""
        self._colours = colours
        for hatched in self._both:
            hatched.actor.GetProperty().SetColor(*rgb(colours.ink))

    def show(self, vertices: FloatArray, faces: IntArray) -> None:
        """Other marked faces, (m, 3), of these vertices; there is no stroke any more."""
        self._marked.show(vertices, faces)
        self.show_stroke(vertices, _NONE, erasing=False)

    def show_stroke(self, vertices: FloatArray, faces: IntArray, *, erasing: bool) -> None:
        """The faces under the stroke so far; of the same array again nothing is done."""
        if faces is self._shown:
            return
        self._shown = faces
        if self._colours is not None:
            self._stroke.actor.GetProperty().SetColor(*rgb(self._colours.paper if erasing else self._colours.ink))
        self._stroke.show(vertices, faces)

    def turn(self, turn: FloatArray | None) -> None:
        """Draw it turned by a (4, 4) matrix; None as it is."""
        for hatched in self._both:
            hatched.actor.user_matrix = np.eye(4) if turn is None else turn

    def set_cuts(self, planes: Sequence[vtkPlane]) -> None:
        """Take away what is beyond these planes."""
        for hatched in self._both:
            for mapper in (hatched.full, hatched.coarse):
                mapper.RemoveAllClippingPlanes()
                for plane in planes:
                    mapper.AddClippingPlane(plane)

    def use_coarse(self, coarse: bool) -> None:
        """Draw the stand-ins."""
        for hatched in self._both:
            hatched.actor.SetMapper(hatched.coarse if coarse else hatched.full)
