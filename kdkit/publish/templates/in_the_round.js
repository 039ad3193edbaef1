// A step as solids that move and can be turned. Without it, or without WebGL, the drawing stays.
const round = (() => {
  const holder = document.getElementById("in-the-round");
  const openers = [...document.querySelectorAll(".round-open")];
  if (!holder || !openers.length || !probe()) return null;

  const still = matchMedia("(prefers-reduced-motion: reduce)");
  const SECONDS = 1.4;  // for one turn of the work
  const canvas = document.createElement("canvas");
  canvas.setAttribute("role", "img");
  const controls = document.getElementById("round-controls").content.firstElementChild;
  const buttons = Object.fromEntries([...controls.querySelectorAll("[data-is]")].map(b => [b.dataset.is, b]));
  let data, gl, renderer, camera, programs, shapes = [], corners = [];
  let open = null;  // the step that is shown: its box, its views, where it is looked at from

  function probe() {
    try {
      return !!document.createElement("canvas").getContext("webgl2");
    } catch {
      return false;
    }
  }

  // ---- vectors and turns: columns of three ----
  const plus = (a, b, s = 1) => a.map((c, n) => c + s * b[n]);
  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
  const SQUARE = [[1, 0, 0], [0, 1, 0], [0, 0, 1]];
  const by = (m, v) => [0, 1, 2].map(r => m[0][r] * v[0] + m[1][r] * v[1] + m[2][r] * v[2]);
  const product = (a, b) => b.map(column => by(a, column));
  const clamp = (v, low = 0, high = 1) => Math.min(Math.max(v, low), high);
  const eased = p => p * p * (3 - 2 * p);

  function turn(axis, angle) {  // Rodrigues' formula
    const [c, s] = [Math.cos(angle), Math.sin(angle)];
    return SQUARE.map(v =>
      plus(plus(v.map(x => x * c), cross(axis, v), s), axis, dot(axis, v) * (1 - c)));
  }

  function turned(from, to, share) {  // the shortest way from one posture to another
    const back = [0, 1, 2].map(r => from.map(column => column[r]));
    const whole = product(to, back);
    const cosine = clamp((whole[0][0] + whole[1][1] + whole[2][2] - 1) / 2, -1, 1);
    const angle = Math.acos(cosine);
    if (angle < 1e-6) return to;
    let axis = [whole[1][2] - whole[2][1], whole[2][0] - whole[0][2], whole[0][1] - whole[1][0]];
    if (Math.hypot(...axis) < 1e-6) {
      const most = [0, 1, 2].reduce((a, b) => (whole[b][b] > whole[a][a] ? b : a));
      axis = whole[most].map((c, n) => c + (n === most ? 1 : 0));
    }
    const length = Math.hypot(...axis);
    return product(turn(axis.map(c => c / length), angle * share), from);
  }

  // ---- the solids, made when they are first seen ----
  function start() {
    data = JSON.parse(holder.textContent);
    renderer = new ogl.Renderer({ canvas, alpha: false, antialias: true, dpr: Math.min(devicePixelRatio || 1, 3) });
    gl = renderer.gl;
    gl.clearColor(1, 1, 1, 1);
    gl.enable(gl.POLYGON_OFFSET_FILL);
    camera = new ogl.Camera(gl, { left: -1, right: 1, bottom: -1, top: 1, near: 0, far: 1 });
    canvas.addEventListener("webglcontextlost", event => { event.preventDefault(); renderer = null; close(); });
    const FACES = `attribute vec3 position, normal;
      uniform mat4 modelMatrix, viewMatrix, projectionMatrix; uniform vec3 tones[5];
      varying vec3 tone;
      void main() {
        vec3 n = normalize(mat3(modelMatrix) * normal);
        vec3 s = n * n;
        tone = s.z * (n.z > 0. ? tones[0] : tones[3]) + s.y * tones[1] + s.x * tones[2];
        gl_Position = projectionMatrix * viewMatrix * modelMatrix * vec4(position, 1.);
      }`;
    const MARKS = FACES.replace(/tone = [^;]+;/, "tone = tones[4];");
    const LINES = `attribute vec2 position; attribute vec3 start, end, na, nb; attribute float kind;
      uniform mat4 modelMatrix, viewMatrix, projectionMatrix; uniform vec2 size; uniform vec3 toward, tone0;
      uniform float edge, outline, lift;
      varying vec3 tone;
      void main() {
        mat4 all = projectionMatrix * viewMatrix * modelMatrix;
        vec4 a = all * vec4(start, 1.), b = all * vec4(end, 1.);
        mat3 m = mat3(modelMatrix);
        float fa = dot(m * na, toward), fb = dot(m * nb, toward);
        bool rim = kind < 1.5 && fa * fb < 0.;
        tone = tone0;
        vec2 along = (b - a).xy * size;
        along = length(along) > 1e-6 ? normalize(along) : vec2(1., 0.);
        vec4 at = mix(a, b, position.x);
        float wide = kind > 1.5 ? .7 * edge : rim ? outline : edge;
        at.xy += (vec2(-along.y, along.x) * position.y + along * (position.x * 2. - 1.) * .5) * wide / size;
        at.z -= lift;
        gl_Position = kind < .5 && !rim ? vec4(2., 2., 2., 1.) : at;
      }`;
    const FRAGMENT = "precision highp float; varying vec3 tone; void main() { gl_FragColor = vec4(tone, 1.); }";
    programs = {};
    for (const [role, tones] of Object.entries(data.tones)) {
      const colours = tones.map(hex => [1, 3, 5].map(n => parseInt(hex.slice(n, n + 2), 16) / 255));
      const surface = { tones: { value: colours.slice(0, 5) } };
      const heavy = role === "new" || role === "fastener";
      programs[role] = {
        faces: new ogl.Program(gl, { vertex: FACES, fragment: FRAGMENT, uniforms: surface }),
        marks: new ogl.Program(gl, { vertex: MARKS, fragment: FRAGMENT, uniforms: surface, cullFace: false }),
        lines: new ogl.Program(gl, {
          vertex: LINES, fragment: FRAGMENT, cullFace: false,
          uniforms: {
            tone0: { value: colours[5] }, size: { value: [1, 1] }, toward: { value: [0, 0, 1] },
            edge: { value: heavy ? 1.2 : 0.8 }, outline: { value: heavy ? 2.2 : 1.4 }, lift: { value: 0 },
          },
        }),
      };
    }
  }

  function points(n) {
    if (corners[n]) return corners[n];
    const mesh = data.meshes[n];
    const bytes = Uint8Array.from(atob(mesh.c), c => c.charCodeAt(0));
    const whole = new DataView(bytes.buffer);
    const found = [];
    for (let at = 0; at < bytes.length; at += 6) {
      found.push([0, 2, 4].map(k => whole.getInt16(at + k, true) * mesh.s));
    }
    return (corners[n] = found);
  }

  function shape(n) {  // surfaces and lines as numbers, in the frame of the solid
    if (shapes[n]) return shapes[n];
    const mesh = data.meshes[n], at = points(n);
    const faces = [], marks = [], lines = [];
    const normals = mesh.f.map(face => face.slice(0, 3));
    for (const [x, y, z, ...rest] of mesh.f) for (const c of rest) faces.push([at[c], [x, y, z]]);
    for (const [a, b, f, g, sharp] of mesh.e) {
      lines.push([at[a], at[b], normals[f], g < 0 ? normals[f].map(c => -c) : normals[g], sharp]);
    }
    for (const [tone, face, closed, said, three] of mesh.m) {
      const ring = said.length === 2 && said[1] < 0 ? Array.from({ length: -said[1] }, (_, k) => said[0] + k) : said;
      const normal = normals[face] ?? [0, 0, 1];
      ring.forEach((a, k) => {
        if (closed || k + 1 < ring.length) lines.push([at[a], at[ring[(k + 1) % ring.length]], normal, normal, 2]);
      });
      if (!tone) continue;
      const fan = three.length ? three : ring.slice(2).flatMap((c, k) => [ring[0], ring[k + 1], c]);
      for (const c of fan) marks.push([at[c], normal]);
    }
    return (shapes[n] = { faces, marks, lines });
  }

  // A line is a narrow strip of four corners: drawn as instances it is slow without a graphics card.
  const fourfold = (four, times) => Float32Array.from({ length: 8 * times }, (_, k) => four[(k >> 1) & 3][k & 1]);
  const repeated = (list, size) =>
    Float32Array.from({ length: 4 * list.length }, (_, k) => list[Math.floor(k / (4 * size)) * size + k % size]);

  function geometries(pieces) {  // of pieces that stay together, as one
    const surfaces = { faces: [[], []], marks: [[], []] }, lines = [[], [], [], [], []];
    for (const { mesh, origin, turn } of pieces) {
      const made = shape(mesh);
      for (const [kind, [positions, normals]] of Object.entries(surfaces)) {
        for (const [p, n] of made[kind]) {
          positions.push(...plus(origin, by(turn, p)));
          normals.push(...by(turn, n));
        }
      }
      for (const [a, b, na, nb, kind] of made.lines) {
        lines[0].push(...plus(origin, by(turn, a)));
        lines[1].push(...plus(origin, by(turn, b)));
        lines[2].push(...by(turn, na));
        lines[3].push(...by(turn, nb));
        lines[4].push(kind);
      }
    }
    const flat = ([positions, normals]) => positions.length ? new ogl.Geometry(gl, {
      position: { size: 3, data: new Float32Array(positions) },
      normal: { size: 3, data: new Float32Array(normals) },
    }) : null;
    const strip = lines[4].length ? new ogl.Geometry(gl, {
      position: { size: 2, data: fourfold([[0, -1], [1, -1], [0, 1], [1, 1]], lines[4].length) },
      ...Object.fromEntries(["start", "end", "na", "nb", "kind"].map((name, n) =>
        [name, { size: n < 4 ? 3 : 1, data: repeated(lines[n], n < 4 ? 3 : 1) }])),
      index: { data: new Uint32Array(lines[4].flatMap((_, k) => [0, 1, 2, 2, 1, 3].map(c => 4 * k + c))) },
    }) : null;
    return { faces: flat(surfaces.faces), marks: flat(surfaces.marks), lines: strip };
  }

  // ---- a view of a step ----
  const listed = pairs => {
    const found = [];
    for (let n = 0; n < pairs.length; n += 2) for (let k = pairs[n]; k <= pairs[n + 1]; k++) found.push(k);
    return found;
  };

  function prepare(said) {
    const handled = new Set(listed(said.handled));
    const ways = new Map(said.moving.map(one => [one[0], one]));
    const pieces = [...new Set([...listed(said.there), ...ways.keys()])].map(n => {
      const [mesh, role, origin, i, j] = data.places[n];
      const look = role === "wall" ? "wall" : !handled.has(n) ? "there" : role === "part" ? "new" : "fastener";
      return { mesh, origin, turn: [i, j, cross(i, j)], way: ways.get(n), look };
    });
    const low = [1e9, 1e9, 1e9], high = [-1e9, -1e9, -1e9];
    for (const piece of pieces) {
      const all = points(piece.mesh);
      const box = [0, 1, 2].map(n => [Math.min(...all.map(p => p[n])), Math.max(...all.map(p => p[n]))]);
      piece.box = [0, 1, 2, 3, 4, 5, 6, 7].map(k => [box[0][k & 1], box[1][(k >> 1) & 1], box[2][k >> 2]]);
      if (piece.look === "wall") continue;
      for (const t of [0, 1e9]) {
        const [origin, frame] = place(piece, t);
        for (const p of piece.box) {
          plus(origin, by(frame, p)).forEach((c, n) => { low[n] = Math.min(low[n], c); high[n] = Math.max(high[n], c); });
        }
      }
    }
    return { ...said, pieces, middle: low.map((c, n) => (c + high[n]) / 2), radius: Math.hypot(...plus(high, low, -1)) / 2 };
  }

  function place(piece, t) {  // where a piece is at a time: in each turn its legs one after the other
    if (!piece.way) return [piece.origin, piece.turn];
    const [, legs, spin, last, tilt] = piece.way;
    let [origin, frame] = [piece.origin, piece.turn];
    if (spin) frame = product(frame, turn([0, 0, 1], 2 * Math.PI * spin * (1 - eased(clamp(t - last)))));
    const stretches = k => legs.filter(leg => leg[0] === k).length + (tilt && k === tilted ? 1 : 0);
    const tilted = tilt ? Math.max(...legs.map(leg => leg[0])) : -1;
    if (tilt) {
      const [point, axis, degrees] = tilt;
      const share = clamp(clamp(t - tilted) * stretches(tilted) - (stretches(tilted) - 1));
      const back = turn(axis, -degrees * (1 - eased(share)) * Math.PI / 180);
      origin = plus(point, by(back, plus(origin, point, -1)));
      frame = product(back, frame);
    }
    const done = new Map();
    for (const [k, ...way] of legs) {
      const n = done.get(k) ?? 0;
      done.set(k, n + 1);
      origin = plus(origin, way, eased(clamp(clamp(t - k) * stretches(k) - n)) - 1);
    }
    return [origin, frame];
  }

  function build(view) {  // pieces that look alike and go the same way are drawn as one
    view.scene = new ogl.Transform();
    view.groups = new Map();
    view.pieces.forEach((piece, n) => {
      const alone = piece.way?.[2] ? n : "";
      const key = JSON.stringify([piece.look, piece.way?.slice(1), alone]);
      if (!view.groups.has(key)) view.groups.set(key, []);
      view.groups.get(key).push(piece);
    });
    view.groups = [...view.groups.values()].map(pieces => {
      const [{ look, way, origin, turn }] = pieces;
      const spins = way?.[2];
      const group = { look, way, origin: spins ? origin : [0, 0, 0], turn: spins ? turn : SQUARE, node: new ogl.Transform() };
      const made = geometries(spins ? [{ ...pieces[0], origin: [0, 0, 0], turn: SQUARE }] : pieces);
      group.node.setParent(view.scene);
      for (const [kind, offset] of [["faces", 2], ["marks", 1], ["lines", 0]]) {
        if (!made[kind]) continue;
        group[kind] = new ogl.Mesh(gl, { geometry: made[kind], program: programs[look][kind], frustumCulled: false });
        group[kind].onBeforeRender(() => gl.polygonOffset(0.1 * offset, offset));
        group[kind].setParent(group.node);
      }
      return group;
    });
  }

  function drop(view) {
    for (const group of view.groups) {
      for (const kind of ["faces", "marks", "lines"]) group[kind]?.geometry.remove();
    }
  }

  function stand(node, [i, j, k], at) {
    node.matrixAutoUpdate = false;
    node.matrix.set(...i, 0, ...j, 0, ...k, 0, ...at, 1);
    node.worldMatrixNeedsUpdate = true;
  }

  function draw() {
    if (!open) return;
    const box = canvas.parentElement;
    const [wide, high] = [box.clientWidth, Math.round(clamp(box.clientWidth * 0.75, 200, Math.max(240, innerHeight * 0.62)))];
    if (renderer.width !== wide || renderer.height !== high) renderer.setSize(wide, high);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    const seen = open.views.map(view => look(view));
    const { columns, cell, fit } = grid(seen, wide, high);
    const scale = open.zoom * fit;
    open.views.forEach((view, n) => {
      const { right, up, toward, floor } = seen[n];
      const across = cell[0] * (n % columns + 0.5), down = cell[1] * (Math.floor(n / columns) + 0.5);
      const far = 3 * view.radius + 2000;
      const [x, y] = [seen[n].x, seen[n].y];
      camera.orthographic({
        left: x - across / scale, right: x + (wide - across) / scale,
        bottom: y - (high - down) / scale, top: y + down / scale, near: -far, far,
      });
      stand(camera, [right, up, toward], [0, 0, 0]);
      for (const group of view.groups) {
        const [origin, frame] = place(group, open.t);
        stand(group.node, product(floor, frame), by(floor, plus(origin, view.middle, -1)));
        if (group.look === "wall") group.faces.visible = dot(by(floor, [0, 1, 0]), toward) < 0;
      }
      for (const { lines } of Object.values(programs)) {
        const u = lines.uniforms;
        u.size.value = [wide, high];
        u.toward.value = toward;
        u.lift.value = Math.min(1, 0.4 / scale) / far;  // half a line's width, in mm
      }
      camera.updateMatrixWorld();
      renderer.render({ scene: view.scene, camera, clear: false, sort: true, frustumCull: false });
    });
    const share = (open.t - open.first) / (open.last - open.first || 1);
    if (document.activeElement !== buttons.along || open.playing) buttons.along.value = Math.round(share * 1000);
  }

  function grid(seen, wide, high) {  // the number of columns that lets the views be largest
    const tried = seen.map((_, n) => {
      const columns = n + 1, cell = [wide / columns, high / Math.ceil(seen.length / columns)];
      const fit = Math.min(...seen.map(s => Math.min((cell[0] - 16) / s.wide, (cell[1] - 16) / s.high)));
      return { columns, cell, fit };
    });
    return tried.reduce((best, one) => (one.fit > best.fit ? one : best));
  }

  function look(view) {  // the directions of the screen on the floor, and what they have to hold
    const [a, e] = [open.turned[0] + view.look[0], clamp(open.turned[1] + view.look[1], -89, 89)].map(d => d * Math.PI / 180);
    const toward = [Math.sin(a) * Math.cos(e), -Math.cos(a) * Math.cos(e), Math.sin(e)];
    const right = [Math.cos(a), Math.sin(a), 0];
    const up = cross(toward, right);
    const floor = turned(view.before, view.floor, eased(clamp(open.t + 1)));
    let [x0, x1, y0, y1] = [1e9, -1e9, 1e9, -1e9];
    for (const piece of view.pieces) {
      if (piece.look === "wall") continue;
      for (const t of piece.way ? [0, 1e9] : [0]) {
        const [origin, frame] = place(piece, t);
        for (const p of piece.box) {
          const q = by(floor, plus(plus(origin, by(frame, p)), view.middle, -1));
          const [x, y] = [dot(q, right), dot(q, up)];
          x0 = Math.min(x0, x); x1 = Math.max(x1, x); y0 = Math.min(y0, y); y1 = Math.max(y1, y);
        }
      }
    }
    return { right, up, toward, floor, wide: x1 - x0, high: y1 - y0, x: (x0 + x1) / 2, y: (y0 + y1) / 2 };
  }

  // ---- what a reader does ----
  function show(t) {
    open.t = clamp(t, open.first, open.last);
    requestAnimationFrame(draw);
  }

  function stop() {
    if (!open) return;
    open.playing = false;
    buttons.play.textContent = buttons.play.dataset.play;
  }

  function play() {
    if (open.playing) return stop();
    if (open.t >= open.last - 1e-6) open.t = open.first;
    if (still.matches) return show(open.last);
    open.playing = true;
    buttons.play.textContent = buttons.play.dataset.stop;
    let before = performance.now();
    const on = now => {
      if (!open?.playing) return;
      open.t = Math.min(open.last, open.t + (now - before) / 1000 / SECONDS);
      before = now;
      draw();
      if (open.t >= open.last) stop(); else requestAnimationFrame(on);
    };
    requestAnimationFrame(on);
  }

  function turnBy(right, up) {
    open.turned = [(open.turned[0] + right) % 360, clamp(open.turned[1] + up, -120, 120)];
    requestAnimationFrame(draw);
  }

  function zoomBy(by) {
    open.zoom = clamp(open.zoom * by, 0.5, 8);
    requestAnimationFrame(draw);
  }

  function showStep(opener) {
    if (open) close();
    if (!renderer) start();
    const step = opener.closest(".step");
    const scene = data.scenes[opener.dataset.step];
    const views = scene.views.map(prepare);
    views.forEach(build);
    const turns = scene.views.some(v => JSON.stringify(v.floor) !== JSON.stringify(v.before));
    const [first, last] = [turns ? -1 : 0, scene.n];
    open = { step, opener, views, first, last, t: first, turned: [0, 0], zoom: 1, playing: false };
    step.classList.add("in-the-round");
    opener.setAttribute("aria-expanded", "true");
    opener.textContent = opener.dataset.close;
    canvas.setAttribute("aria-label", step.querySelector(".drawing").getAttribute("aria-label"));
    step.querySelector(".round").append(canvas, controls);
    for (const b of [buttons.play, buttons.along]) b.disabled = first === last;
    step.querySelector(".round").hidden = false;
    draw();
  }

  function close() {
    if (!open) return;
    stop();
    const { step, opener, views } = open;
    open = null;
    if (renderer) views.forEach(drop);
    step.classList.remove("in-the-round");
    step.querySelector(".round").hidden = true;
    opener.setAttribute("aria-expanded", "false");
    opener.textContent = opener.dataset.open;
  }

  for (const opener of openers) {
    opener.hidden = false;
    opener.textContent = opener.dataset.open;
    opener.setAttribute("aria-expanded", "false");
    opener.addEventListener("click", () => (open?.opener === opener ? close() : showStep(opener)));
  }
  const doing = {
    left: () => turnBy(20, 0), right: () => turnBy(-20, 0), up: () => turnBy(0, -15), down: () => turnBy(0, 15),
    nearer: () => zoomBy(1.25), farther: () => zoomBy(0.8), play,
  };
  for (const [name, act] of Object.entries(doing)) buttons[name].addEventListener("click", act);
  buttons.along.addEventListener("input", () => {
    stop();
    show(open.first + (open.last - open.first) * buttons.along.value / 1000);
  });
  const fingers = new Map();
  canvas.addEventListener("pointerdown", event => {
    canvas.setPointerCapture(event.pointerId);
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
  });
  canvas.addEventListener("pointermove", event => {
    const old = fingers.get(event.pointerId);
    if (!old || !open) return;
    const at = [event.clientX, event.clientY];
    if (fingers.size === 1) turnBy((old[0] - at[0]) * 0.5, (at[1] - old[1]) * 0.5);
    const other = [...fingers].find(([id]) => id !== event.pointerId)?.[1];
    if (other) zoomBy(Math.hypot(at[0] - other[0], at[1] - other[1]) / Math.max(1, Math.hypot(old[0] - other[0], old[1] - other[1])));
    fingers.set(event.pointerId, at);
  });
  for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, event => fingers.delete(event.pointerId));
  canvas.addEventListener("wheel", event => {
    if (!event.ctrlKey) return;
    event.preventDefault();
    zoomBy(Math.exp(-event.deltaY / 200));
  }, { passive: false });
  addEventListener("resize", () => requestAnimationFrame(draw));
  return { close };
})();
