"""A small chest of three drawers on side runners, as a definition's text."""

from __future__ import annotations

CHEST = """\
kdkit: 1
product: Mill chest of drawers
parameters:
  width: {value: 600, min: 400, max: 900}
  depth: 480
  module: {value: 224, title: "Height of one front and its gap, a multiple of 32"}
  plinth_height: 60
boards:
  carcass: {material: particleboard-p2, thickness: 18, title: White particleboard}
  thin: {material: hardboard, thickness: 3, title: Hardboard}
unit_definitions:
  drawer:
    product: Drawer
    parameters: {width: 500, length: 460, height: 120, front_width: 597, front_height: 221}
    boards:
      front: {material: particleboard-p2, thickness: 18, title: White particleboard}
      box: {material: plywood-birch, thickness: 12, title: Birch plywood}
      thin: {material: hardboard, thickness: 3, title: Hardboard}
    panels:
      left:
        title: Drawer side
        board: box
        x: {from: 0}
        y: [0, length]
        z: [0, height]
        face: +x
        grain: y
      right: {title: Drawer side, mirror: left, x: {to: width}}
      box_front:
        title: Drawer box front
        board: box
        x: [left.x1, right.x0]
        y: {from: 0}
        z: [0, height]
        face: +y
        grain: x
      box_back:
        title: Drawer box back
        board: box
        x: [left.x1, right.x0]
        y: {to: length}
        z: [0, height]
        face: -y
        grain: x
      floor:
        title: Drawer bottom
        board: thin
        x: [left.x1 - 5, right.x0 + 5]
        y: [box_front.y1 - 5, box_back.y0 + 5]
        z: {from: 12}
        face: +z
      front:
        title: Drawer front
        board: front
        x: [width / 2 - front_width / 2, width / 2 + front_width / 2]
        y: {to: 0}
        z: [height / 2 - front_height / 2, height / 2 + front_height / 2]
        face: -y
        grain: x
        bands: {all: 1}
    joints:
      - join: [box_front, box_back]
        to: [left, right]
        fittings: [{fitting: dowel-6x30-glued, ends: 24, pitch: 96}]
      - {join: floor, to: [left, right, box_front, box_back], fittings: [back-in-groove]}
      - {join: front, to: box_front, fittings: [{fitting: front-adjustable-3.5x27, ends: 60}]}
    fixtures:
      - {fitting: handle-128-sunk, on: front, at: [[width / 2, front.y0, height / 2]]}
panels:
  left_side:
    title: Left side
    board: carcass
    x: {from: 0}
    y: [0, depth]
    z: [0, 3 * module + plinth_height]
    face: +x
    grain: z
    bands: {front: 1}
  right_side: {title: Right side, mirror: left_side, x: {to: width}}
  bottom:
    title: Bottom
    board: carcass
    x: [left_side.x1, right_side.x0]
    y: [0, depth]
    z: {from: plinth_height}
    face: +z
    grain: x
    bands: {front: 1}
  top:
    title: Top
    board: carcass
    x: [0, width]
    y: [-20, depth]
    z: {from: left_side.z1}
    face: -z
    grain: x
    bands: {all: 1}
  plinth:
    title: Plinth
    board: carcass
    x: [left_side.x1, right_side.x0]
    y: {from: 40}
    z: [0, plinth_height]
    face: -y
    grain: x
  rear_rail:
    title: Rear rail
    board: carcass
    x: [left_side.x1, right_side.x0]
    y: {to: depth - 30}
    z: [0, plinth_height]
    face: +y
    grain: x
  back:
    title: Back panel
    board: thin
    x: [2, width - 2]
    y: {from: depth}
    z: [plinth_height, top.z1 - 2]
    face: -y
units:
  drawer_1:
    title: Bottom drawer
    define: drawer
    at: [left_side.x1 + 12.75, -2, plinth_height + 1 * module / 2 - 75]
    parameters:
      width: right_side.x0 - left_side.x1 - 25.5
      height: 150
      front_width: width - 3
      front_height: module - 3
  drawer_2:
    title: Middle drawer
    define: drawer
    at: [left_side.x1 + 12.75, -2, plinth_height + 3 * module / 2 - 75]
    parameters:
      width: right_side.x0 - left_side.x1 - 25.5
      height: 150
      front_width: width - 3
      front_height: module - 3
  drawer_3:
    title: Top drawer
    define: drawer
    at: [left_side.x1 + 12.75, -2, plinth_height + 5 * module / 2 - 60]
    parameters:
      width: right_side.x0 - left_side.x1 - 25.5
      height: 120
      front_width: width - 3
      front_height: module - 3
joints:
  - join: bottom
    to: [left_side, right_side]
    fittings:
      - {fitting: cam-and-bolt, at: [120, 260, -120], opens: -z}
      - {fitting: dowel-8x35, at: [32, 190, -32]}
  - join: [plinth, rear_rail]
    to: [left_side, right_side]
    fittings: [{fitting: dowel-8x35, at: [30]}]
  - join: [left_side, right_side]
    to: top
    fittings:
      - {fitting: cam-and-bolt, at: [60, 240, -60], opens: face}
      - {fitting: dowel-8x35, at: [110, -110]}
  - {join: back, to: [left_side, right_side, bottom, top], fittings: [back-screwed]}
  - {join: drawer_1.left, to: left_side, fittings: [side-runner]}
  - {join: drawer_1.right, to: right_side, fittings: [side-runner]}
  - {join: drawer_2.left, to: left_side, fittings: [side-runner]}
  - {join: drawer_2.right, to: right_side, fittings: [side-runner]}
  - {join: drawer_3.left, to: left_side, fittings: [side-runner]}
  - {join: drawer_3.right, to: right_side, fittings: [side-runner]}
fixtures:
  - {fitting: tip-restraint, on: top, at: [[width / 2, depth - 30, top.z1]]}
safety: {use: indoor, wall_restraint: required, clothing_storage: true}
"""
"""Three drawers of one unit, the top one lower: fronts adjustable, bottoms in grooves."""


def chest(*changes: tuple[str, str]) -> str:
    """The chest with texts put in place of others; each must be there."""
    text = CHEST
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text
