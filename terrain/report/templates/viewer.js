// The dig in space: the still picture gives way to one that turns. Nothing here adds up a figure.
(() => {
  "use strict";
  const box = document.getElementById("space-view");
  const data = JSON.parse(document.getElementById("space-data").textContent);

  const bytes = (text) => Uint8Array.from(atob(text), (c) => c.charCodeAt(0)).buffer;
  const placed = (text) => {
    const steps = new Uint16Array(bytes(text));
    return Float32Array.from(steps, (value, i) => value * data.step[i % 3]);
  };
  const plain = (colour) => new three.Color(colour);

  let renderer;
  const canvas = box.querySelector("canvas");
  try {
    renderer = new three.WebGLRenderer({ canvas, antialias: true, alpha: true });
  } catch {
    return; // no WebGL here: the still picture stays
  }

  // --- what there is to see ---
  const places = placed(data.places);
  const geometry = (faces) => { // each face flat; a needle has no side of its own and takes the last one
    const corners = new Uint32Array(bytes(faces)), least = 3 * Math.max(...data.step);
    const position = new Float32Array(corners.length * 3), normal = new Float32Array(corners.length * 3);
    const [a, b, c, last] = [0, 1, 2, 3].map(() => new three.Vector3(0, 0, 1));
    for (let k = 0; k < corners.length; k += 3) {
      [a, b, c].forEach((point, j) => {
        point.fromArray(places, corners[k + j] * 3).toArray(position, (k + j) * 3);
      });
      const longest = Math.max(a.distanceTo(b), b.distanceTo(c), c.distanceTo(a));
      b.sub(a).cross(c.sub(a));
      if (b.length() > least * longest) last.copy(b).normalize();
      for (let j = 0; j < 3; j++) last.toArray(normal, (k + j) * 3);
    }
    const made = new three.BufferGeometry();
    made.setAttribute("position", new three.BufferAttribute(position, 3));
    made.setAttribute("normal", new three.BufferAttribute(normal, 3));
    return made;
  };
  const lines = (text, opacity) => {
    const made = new three.BufferGeometry();
    made.setAttribute("position", new three.BufferAttribute(placed(text), 3));
    const style = { color: plain(data.ink), transparent: opacity < 1, opacity };
    return new three.LineSegments(made, new three.LineBasicMaterial(style));
  };
  const matt = (colour, side) => new three.MeshLambertMaterial({
    color: plain(colour), side,
    polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1,
  });

  const scene = new three.Scene();
  const hole = new three.Group(), pit = new three.Group(), earth = new three.Group();
  for (const body of data.bodies) {
    const faces = geometry(body.faces);
    hole.add(new three.Mesh(faces, matt(body.colour, three.DoubleSide)));
    pit.add(new three.Mesh(faces, matt(data.earth, three.DoubleSide)));
    earth.add(new three.Mesh(faces, matt(body.colour, three.DoubleSide)));
    earth.add(new three.Mesh(geometry(body.lid), matt(body.colour, three.DoubleSide)));
  }
  const rim = lines(data.edges, 1);
  earth.add(lines(data.edges, 1));
  const house = new three.Group(); // faint: the dig is seen through its walls
  house.add(lines(data.house, 0.45));
  if (data.walls) {
    const faces = new three.BufferGeometry();
    faces.setAttribute("position", new three.BufferAttribute(placed(data.walls), 3));
    faces.computeVertexNormals();
    house.add(new three.Mesh(faces, new three.MeshLambertMaterial({
      color: plain(data.paper), emissive: plain(data.paper), emissiveIntensity: 0.5, side: three.DoubleSide,
      transparent: true, opacity: 0.2, depthWrite: false,
    })));
  }
  scene.add(new three.Mesh(geometry(data.ground.faces), matt(data.ground.colour, three.DoubleSide)));
  scene.add(hole, pit, earth, rim, house);
  scene.add(new three.AmbientLight(0xffffff, 1.15));
  const sun = new three.DirectionalLight(0xffffff, 2.2);
  sun.position.set(-0.45, 0.25, 0.86);
  scene.add(sun);

  const reach = [0, 1, 2].map((k) => data.step[k] * 65535);
  const middle = new three.Vector3(reach[0] / 2, reach[1] / 2, reach[2] / 2);
  const radius = Math.hypot(...reach) / 2;
  let lifted = false;
  const lift = reach[2] * 1.25;

  // --- where it is seen from ---
  const camera = new three.OrthographicCamera(-1, 1, 1, -1, -4 * radius, 4 * radius);
  camera.up.set(0, 0, 1);
  const first = { heading: data.heading, elevation: data.elevation, zoom: 1.2 };
  const view = { ...first };
  const radians = (degrees) => (degrees * Math.PI) / 180;

  const toward = () => {
    const turn = radians(view.heading), rise = radians(view.elevation);
    return new three.Vector3(
      Math.sin(turn) * Math.cos(rise), Math.cos(turn) * Math.cos(rise), Math.sin(rise));
  };
  // Half the width and height that the scene takes up in the first view.
  const spread = (() => {
    const turn = radians(first.heading), rise = radians(first.elevation);
    const c = Math.abs(Math.cos(turn)), s = Math.abs(Math.sin(turn));
    const wide = (c * reach[0] + s * reach[1]) / 2;
    const deep = (s * reach[0] + c * reach[1]) / 2;
    return [wide, deep * Math.sin(rise) + (reach[2] / 2) * Math.cos(rise)];
  })();

  // As tall as the first view needs, so that no part of the box stays empty.
  box.style.aspectRatio = String(Math.min(Math.max(spread[0] / spread[1], 1), 1.9));

  // --- names over it ---
  const layer = box.querySelector(".tags");
  const tags = data.bodies.map((body) => {
    const tag = document.createElement("span");
    tag.append(body.name, Object.assign(document.createElement("i"), { textContent: ` ${body.bank}` }));
    tag.className = body.kind === "wall" ? "tag" : "tag other";
    layer.append(tag);
    return { tag, spot: new three.Vector3(...body.spot), crown: new three.Vector3(...body.crown) };
  });
  const north = document.createElement("span");
  north.textContent = "N";
  north.className = "tag north";
  layer.append(north);
  // The arrow lies level at the north edge of the ground, the N beyond its tip.
  const long = 0.09 * Math.max(reach[0], reach[1]), tail = reach[1] - long;
  const northSpot = new three.Vector3(reach[0] / 2, tail + 1.45 * long, reach[2]);
  const arrowFoot = new three.Vector3(reach[0] / 2, tail, reach[2]);
  const strokes = [[0, 0, 0, 1], [0, 1, -0.28, 0.55], [0, 1, 0.28, 0.55]].flatMap(([x, y, u, v]) => [
    reach[0] / 2 + x * long, tail + y * long, reach[2], reach[0] / 2 + u * long, tail + v * long, reach[2]]);
  const arrow = new three.BufferGeometry();
  arrow.setAttribute("position", new three.BufferAttribute(new Float32Array(strokes), 3));
  scene.add(new three.LineSegments(arrow, new three.LineBasicMaterial({ color: plain(data.ink), depthTest: false })));
  const bar = box.querySelector(".bar-length"), barWords = box.querySelector(".bar-words");

  // Points round the dig, few enough to follow: names keep out of the area that they span.
  const round = (() => {
    const all = placed(data.edges), every = Math.max(Math.ceil(all.length / 3 / 240), 1), kept = [];
    for (let k = 0; k + 2 < all.length; k += 3 * every) {
      kept.push(new three.Vector3(all[k], all[k + 1], all[k + 2]));
    }
    return kept;
  })();
  const hullOf = (points) => { // Andrew's monotone chain
    const sorted = [...points].sort((p, q) => p[0] - q[0] || p[1] - q[1]);
    const half = (order) => {
      const chain = [];
      for (const p of order) {
        while (chain.length > 1) {
          const [a, b] = chain.slice(-2);
          if ((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) > 0) break;
          chain.pop();
        }
        chain.push(p);
      }
      return chain.slice(0, -1);
    };
    return [...half(sorted), ...half([...sorted].reverse())];
  };
  const isIn = (hull, x, y) => hull.every((a, k) => {
    const b = hull[(k + 1) % hull.length];
    return (b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0]) >= 0;
  });

  const ties = box.querySelector("svg");
  const showTags = (width, height) => {
    const up = new three.Vector3(0, 0, lifted ? lift : 0);
    const pixels = (point) => {
      const at = point.clone().project(camera);
      return [((at.x + 1) / 2) * width, ((1 - at.y) / 2) * height];
    };
    const hull = hullOf(round.map((point) => pixels(point.clone().add(up))));
    const centre = [0, 1].map((k) => hull.reduce((sum, p) => sum + p[k], 0) / (hull.length || 1));
    const taken = [], drawn = [];
    const put = (tag, at, spots) => {
      const w = tag.offsetWidth / 2 + 2, h = tag.offsetHeight / 2;
      for (const [x, y] of spots(w, h)) {
        const own = [x - w, y - h, x + w, y + h];
        if (own[0] < 0 || own[2] > width || own[1] < 0 || own[3] > height) continue;
        if (taken.some((t) => own[2] > t[0] && own[0] < t[2] && own[3] > t[1] && own[1] < t[3])) continue;
        taken.push(own);
        tag.style.transform = `translate(${x}px, ${y}px) translate(-50%, -50%)`;
        tag.style.visibility = "visible";
        const away = Math.max(Math.abs(at[0] - x) - w, Math.abs(at[1] - y) - h);
        if (away > 0) { // the tie ends at the edge of the words
          const part = Math.min(w / Math.abs(at[0] - x || 1e-9), h / Math.abs(at[1] - y || 1e-9));
          const end = [x + part * (at[0] - x), y + part * (at[1] - y)];
          drawn.push(`M${at[0].toFixed(1)} ${at[1].toFixed(1)}L${end[0].toFixed(1)} ${end[1].toFixed(1)}`);
        }
        return;
      }
      tag.style.visibility = "hidden";
    };
    const tip = pixels(northSpot);
    put(north, tip, () => [tip]);
    const foot = pixels(arrowFoot); // names keep off the arrow too
    taken.push([0, 1].map((k) => Math.min(tip[k], foot[k]) - 4).concat([0, 1].map((k) => Math.max(tip[k], foot[k]) + 4)));
    // Names stand outside the dig, in the direction in which their part lies from its middle.
    const spotsOut = (at) => function* (w, h) {
      const bearing = Math.atan2(at[1] - centre[1], at[0] - centre[0]);
      for (let swing = 0; swing < 14; swing++) {
        const angle = bearing + (swing % 2 ? 1 : -1) * Math.ceil(swing / 2) * 0.22;
        for (let out = 14; out < width; out += 12) {
          const x = at[0] + out * Math.cos(angle) + Math.sign(Math.cos(angle)) * w * Math.abs(Math.cos(angle));
          const y = at[1] + out * Math.sin(angle);
          const clear = ![[-w, -h], [w, -h], [-w, h], [w, h]].some(([dx, dy]) => isIn(hull, x + dx, y + dy));
          if (clear) { yield [x, y]; yield [x, y + 2 * h]; yield [x, y - 2 * h]; break; }
        }
      }
      yield at;
    };
    const placedTags = tags.map(({ tag, spot, crown }) => (
      { tag, at: pixels((lifted ? crown : spot).clone().add(up)) }));
    const off = ({ at }) => -Math.hypot(at[0] - centre[0], at[1] - centre[1]);
    placedTags.sort((p, q) => off(p) - off(q)); // the outermost first: they have the least choice
    for (const { tag, at } of placedTags) put(tag, at, spotsOut(at));
    ties.setAttribute("viewBox", `0 0 ${width} ${height}`);
    ties.firstElementChild.setAttribute("d", drawn.join(""));
  };

  const showBar = (pixelsPerUnit) => {
    let length = 0.1;
    for (const step of [2, 2.5, 2, 2, 2.5, 2, 2, 2.5, 2, 2, 2.5, 2]) {
      if (length * step * pixelsPerUnit > 130) break;
      length *= step;
    }
    bar.style.width = `${length * pixelsPerUnit}px`;
    barWords.textContent = `${Number(length.toPrecision(2))} ${data.unit}`;
  };

  let asked = false;
  const draw = () => {
    asked = false;
    const width = box.clientWidth, height = box.clientHeight;
    if (!width || !height) return;
    renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));
    renderer.setSize(width, height, false);
    hole.visible = rim.visible = !lifted;
    pit.visible = earth.visible = lifted;
    earth.position.z = lift;
    const target = middle.clone();
    const tall = spread[1] + (lifted ? (lift / 2) * Math.cos(radians(first.elevation)) : 0);
    if (lifted) target.z += lift / 2;
    const unit = Math.max(spread[0] / width, tall / height) * 1.04 / view.zoom; // half units a pixel
    camera.left = -unit * width; camera.right = unit * width;
    camera.top = unit * height; camera.bottom = -unit * height;
    camera.position.copy(target).add(toward());
    // straight down has no way up of its own
    const turn = radians(view.heading);
    if (view.elevation > 89) camera.up.set(-Math.sin(turn), -Math.cos(turn), 0);
    else camera.up.set(0, 0, 1);
    camera.lookAt(target);
    camera.updateProjectionMatrix();
    camera.updateMatrixWorld();
    renderer.render(scene, camera);
    showTags(width, height);
    showBar(1 / (2 * unit));
  };
  const redraw = () => { if (!asked) { asked = true; requestAnimationFrame(draw); } };

  const turnBy = (heading, elevation) => {
    view.heading = (view.heading + heading + 360) % 360;
    view.elevation = Math.min(Math.max(view.elevation + elevation, -15), 90);
    redraw();
  };
  const zoomBy = (times) => {
    view.zoom = Math.min(Math.max(view.zoom * times, 0.5), 12);
    redraw();
  };

  // --- drag, pinch, keys, buttons; the page scrolls as ever ---
  const held = new Map();
  let waits = false; // a finger turns nothing until it is clear that it does not scroll
  canvas.addEventListener("pointerdown", (event) => {
    if (event.pointerType === "mouse" && event.button !== 0) return;
    held.set(event.pointerId, [event.clientX, event.clientY]);
    waits = event.pointerType === "touch" && held.size === 1;
    canvas.setPointerCapture(event.pointerId);
  });
  canvas.addEventListener("pointermove", (event) => {
    const before = held.get(event.pointerId);
    if (!before) return;
    const now = [event.clientX, event.clientY];
    if (held.size === 1) {
      if (waits && Math.abs(now[0] - before[0]) < 12) return;
      waits = false;
      turnBy((now[0] - before[0]) * 0.4, (now[1] - before[1]) * 0.4);
    } else {
      const [id] = [...held.keys()].filter((other) => other !== event.pointerId);
      const other = held.get(id);
      const apart = (p) => Math.max(Math.hypot(p[0] - other[0], p[1] - other[1]), 1);
      zoomBy(apart(now) / apart(before));
    }
    held.set(event.pointerId, now);
  });
  for (const name of ["pointerup", "pointercancel", "lostpointercapture"]) {
    canvas.addEventListener(name, (event) => held.delete(event.pointerId));
  }
  // Two fingers are for the picture; one that moves up or down first scrolls the page.
  const keep = (event) => { if (event.touches.length > 1) event.preventDefault(); };
  canvas.addEventListener("touchstart", keep, { passive: false });
  canvas.addEventListener("touchmove", keep, { passive: false });
  canvas.addEventListener("wheel", (event) => {
    if (!event.ctrlKey) return; // a plain wheel scrolls the page
    event.preventDefault();
    zoomBy(Math.exp(-event.deltaY * 0.004));
  }, { passive: false });
  const keys = {
    ArrowLeft: () => turnBy(-10, 0), ArrowRight: () => turnBy(10, 0),
    ArrowUp: () => turnBy(0, 6), ArrowDown: () => turnBy(0, -6),
    "+": () => zoomBy(1.2), "=": () => zoomBy(1.2), "-": () => zoomBy(1 / 1.2),
  };
  canvas.addEventListener("keydown", (event) => {
    if (!keys[event.key] || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    keys[event.key]();
  });
  const tools = document.getElementById("space-tools");
  const deeds = {
    left: () => turnBy(-20, 0), right: () => turnBy(20, 0),
    near: () => zoomBy(1.3), far: () => zoomBy(1 / 1.3),
    above: () => { Object.assign(view, { heading: 180, elevation: 90 }); redraw(); }, first: () => { Object.assign(view, first); redraw(); },
    lift: (button) => {
      lifted = !lifted;
      if (lifted) view.elevation = Math.min(view.elevation, 26); // the earth then clears its hole
      button.setAttribute("aria-pressed", String(lifted));
      redraw();
    },
  };
  for (const button of tools.querySelectorAll("button")) {
    button.addEventListener("click", () => deeds[button.dataset.deed](button));
  }

  document.getElementById("space").classList.add("turning");
  new ResizeObserver(redraw).observe(box);
  canvas.addEventListener("webglcontextrestored", redraw);
  draw();
})();
