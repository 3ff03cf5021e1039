"""The graphics library's side of the view: one renderer with the skin, the inner surfaces, the drills and the plate."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import pyvista as pv
from numpy.typing import NDArray
from vtkmodules.vtkCommonDataModel import vtkPlane
from vtkmodules.vtkRenderingCore import vtkPolyDataMapper

from ventplanner.geometry.solid import FloatArray
from ventplanner.ui.picture import Mesh, ShownVent
from ventplanner.ui.view import drill_shape, materials
from ventplanner.ui.view.colours import LIGHT, Colours, rgb
from ventplanner.ui.view.eye import Eye
from ventplanner.ui.view.hatch import Hatch
from ventplanner.ui.view.section import Section
from ventplanner.ui.view.shapes import Shapes, Surface, colour_points, poly_data


class _Drawn:
    """An actor with a mapper for the full surface and one for its stand-in."""

    def __init__(self, renderer: pv.Renderer) -> None:
        self.actor = pv.Actor()
        self.full, self.coarse = vtkPolyDataMapper(), vtkPolyDataMapper()
        for mapper in (self.full, self.coarse):
            mapper.SetInputData(pv.PolyData())
        self.actor.SetMapper(self.full)
        renderer.AddActor(self.actor)

    def show(self, surface: Surface | None) -> None:
        self.full.SetInputData(surface.full if surface else pv.PolyData())
        self.coarse.SetInputData(surface.coarse if surface else pv.PolyData())

    def use_coarse(self, coarse: bool) -> None:
        self.actor.SetMapper(self.coarse if coarse else self.full)


class Stage:
    """What is drawn: set it up, and whoever owns its render window, which is never seen, renders it.

    To be made, used and closed in one and the same thread.
    """

    def __init__(self) -> None:
        self._plotter: Any = pv.Plotter(off_screen=True, lighting="none")
        self.renderer = self._plotter.renderer
        window: Any = self._plotter.render_window
        self.window = window
        window.SetUseOffScreenBuffers(True)
        window.SetMultiSamples(0)
        window.SetInteractor(None)  # which would have to be started before anything is rendered
        self.renderer.UseOITOn()
        self.renderer.UseDepthPeelingOff()
        self.renderer.GradientBackgroundOn()
        self.renderer.AutomaticLightCreationOff()
        self.renderer.AddLight(pv.Light(light_type="headlight"))
        self.renderer.GetActiveCamera().ParallelProjectionOn()
        self._skin, self._inner = _Drawn(self.renderer), _Drawn(self.renderer)
        materials.make_glass(self._skin.actor)
        for mapper in (self._skin.full, self._skin.coarse):
            mapper.ScalarVisibilityOff()
        materials.make_solid(self._inner.actor)
        self._drills, self._plate, self._supports, self._liquid = (_Drawn(self.renderer) for _ in range(4))
        materials.make_liquid(self._liquid.actor)
        materials.make_solid(self._supports.actor)
        materials.make_solid(self._drills.actor)
        materials.make_flat(self._plate.actor)
        self._plate.actor.GetProperty().SetOpacity(0.55)
        self.hatch = Hatch(self.renderer)
        self._colours = LIGHT
        self._shapes: Shapes | None = None
        self._reach = (np.zeros(3), 1.0)
        self.set_colours(LIGHT)

    def close(self) -> None:
        """Give back what the graphics library holds."""
        self._plotter.close()

    def set_colours(self, colours: Colours) -> None:
        """Light or dark."""
        self._colours = colours
        self.renderer.SetBackground(*rgb(colours.ground))
        self.renderer.SetBackground2(*rgb(colours.sky))
        self._tint_skin()
        self.hatch.set_colours(colours)
        self._drills.actor.GetProperty().SetColor(*rgb(colours.drill))
        self._plate.actor.GetProperty().SetColor(*rgb(colours.faint))
        self._supports.actor.GetProperty().SetColor(*rgb(colours.cut))
        self._liquid.actor.GetProperty().SetColor(*rgb(colours.liquid))

    def show(self, shapes: Shapes | None, cavities: Sequence[str]) -> None:
        """Surfaces of another picture, with #rrggbb of each of their cavities."""
        self._shapes = shapes
        self.turn(None)
        self._skin.show(shapes.skin if shapes else None)
        self._inner.show(shapes.inner if shapes else None)
        self._tint_skin()
        if shapes:
            size = float(np.linalg.norm(shapes.high - shapes.low))
            self._reach = (0.5 * (shapes.low + shapes.high), max(size, 1.0))
        self.set_cavity_colours(cavities)

    def _tint_skin(self) -> None:
        """Without a cavity there is nothing to be seen through it."""
        is_hollow = self._shapes is None or len(self._shapes.inner.group_full) > 0
        least = materials.SKIN if is_hollow else materials.SOLID_SKIN
        materials.tint_glass(self._skin.actor, self._colours, least)

    def turn(self, turn: FloatArray | None) -> None:
        """Draw the surfaces turned by a (4, 4) matrix of a rotation and a shift; None as they are."""
        for drawn in (self._skin, self._inner, self._supports):
            drawn.actor.user_matrix = np.eye(4) if turn is None else turn
        self.hatch.turn(turn)
        if self._shapes is not None:
            middle = 0.5 * (self._shapes.low + self._shapes.high)
            self._reach = (middle if turn is None else turn[:3, :3] @ middle + turn[:3, 3], self._reach[1])

    def set_cavity_colours(self, cavities: Sequence[str]) -> None:
        """#rrggbb of each cavity of the shapes."""
        if not self._shapes:
            return
        table = np.array([_bytes(c) for c in cavities], dtype=np.uint8).reshape(-1, 3)
        bore = np.array(_bytes(self._colours.drill), dtype=np.uint8)
        inner = self._shapes.inner
        for data, group in {id(d): (d, g) for d, g in _both(inner)}.values():
            if not len(group):
                continue  # the bare part: no cavity is known yet
            colours: Any = colour_points(group, table, bore)
            data.point_data.set_array(colours, "colours", deep_copy=True)
            data.GetPointData().SetActiveScalars("colours")
            data.Modified()

    def set_drills(self, vents: Iterable[ShownVent]) -> None:
        """Solid cylinders of accepted vents that the shapes are not cut by yet."""
        parts = [drill_shape.cylinder(v) for v in vents]
        if not parts:
            self._drills.show(None)
            return
        starts = np.cumsum([0] + [len(p) for p, _ in parts[:-1]])
        points = np.concatenate([p for p, _ in parts]).astype(np.float32)
        faces = np.concatenate([f + s for (_, f), s in zip(parts, starts, strict=True)]).astype(np.int32)
        data = poly_data(points, faces, with_normals=True)
        self._drills.show(Surface(data, data, *(np.zeros(0, np.int16),) * 2))

    def set_supports(self, mesh: Mesh | None) -> None:
        """Supports of a second file, solid, in a quiet colour that no cavity has."""
        if mesh is None:
            self._supports.show(None)
            return
        # Each triangle with corners of its own: struts and rafts have sharp edges.
        points = mesh.vertices[mesh.faces].reshape(-1, 3).astype(np.float32)
        data = poly_data(points, np.arange(len(points), dtype=np.int32).reshape(-1, 3), with_normals=True)
        self._supports.show(Surface(data, data, *(np.zeros(0, np.int16),) * 2))

    def set_liquid(self, mesh: Mesh | None, *, through: bool = False) -> None:
        """Liquid at rest, solid, in a colour that no cavity has. through: inner surfaces are seen through."""
        self._inner.actor.GetProperty().SetOpacity(materials.SEEN_THROUGH if through else 1.0)
        if mesh is None:
            self._liquid.show(None)
            return
        # Each triangle with corners of its own: its surface meets the walls at an edge.
        points = mesh.vertices[mesh.faces].reshape(-1, 3).astype(np.float32)
        data = poly_data(points, np.arange(len(points), dtype=np.int32).reshape(-1, 3), with_normals=True)
        self._liquid.show(Surface(data, data, *(np.zeros(0, np.int16),) * 2))

    def set_plate(self, corners: FloatArray | None) -> None:
        """The build plate as a rectangle, (4, 3) build points; None while it is seen edge on."""
        if corners is None:
            self._plate.show(None)
            return
        data = poly_data(corners.astype(np.float32), np.array([[0, 1, 2], [0, 2, 3]], dtype=np.int32))
        self._plate.show(Surface(data, data, *(np.zeros(0, np.int16),) * 2))

    def set_cuts(self, sections: Iterable[Section]) -> None:
        """Take away what is beyond these planes."""
        planes = []
        for section in sections:
            plane = vtkPlane()
            plane.SetOrigin(*section.point)
            x, y, z = section.normal
            plane.SetNormal(-x, -y, -z)
            planes.append(plane)
        for drawn in (self._skin, self._inner, self._drills, self._supports, self._liquid):
            for mapper in (drawn.full, drawn.coarse):
                mapper.RemoveAllClippingPlanes()
                for plane in planes:
                    mapper.AddClippingPlane(plane)
        self.hatch.set_cuts(planes)

    def set_detail(self, coarse: bool, fine: bool) -> None:
        """coarse: draw the stand-ins. fine: smooth edges, and translucent surfaces right in any order."""
        for drawn in (self._skin, self._inner):
            drawn.use_coarse(coarse)
        self.hatch.use_coarse(coarse)
        self.renderer.SetUseFXAA(fine)
        self.renderer.SetUseOIT(fine)

    def look(self, eye: Eye) -> None:
        """Look from there."""
        _, up, back = eye.axes
        middle, reach = self._reach
        focus = np.asarray(eye.focus)
        # Along the view it does not matter where a parallel camera is: keep the part between its planes.
        depth = float((middle - focus) @ back)
        place = focus + (depth + 4.0 * reach) * back
        camera = self.renderer.GetActiveCamera()
        camera.SetFocalPoint(*(focus + depth * back))
        camera.SetPosition(*place)
        camera.SetViewUp(*up)
        camera.SetParallelScale(0.5 * eye.height * eye.mm_per_px)
        camera.SetClippingRange(0.5 * reach, 7.5 * reach)


def _both(surface: Surface) -> tuple[tuple[pv.PolyData, NDArray[np.int16]], ...]:
    return (surface.full, surface.group_full), (surface.coarse, surface.group_coarse)


def _bytes(colour: str) -> tuple[int, ...]:
    return tuple(int(colour[k : k + 2], 16) for k in (1, 3, 5))
