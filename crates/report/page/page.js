// What the page does beyond showing: switches, a map that is enlarged and moved, one cursor on all drawings of a trip, and the places of any
// part of the season.
"use strict";
(() => {
  const root = document.documentElement;
  const all = (query) => Array.from(document.querySelectorAll(query));
  const one = (query) => document.querySelector(query);

  // ---- units
  const SYSTEMS = ["imperial", "metric", "marine"];
  /** A text in the chosen units: in its braces stand imperial, metric and, where it differs from metric, marine. */
  const told = (template) => {
    const system = SYSTEMS.indexOf(root.dataset.units);
    return decodeURIComponent(template.replace(/\{([^|}]*)\|([^|}]*)(?:\|([^}]*))?\}/g,
      (_, ...all) => all[system] ?? all[1]));
  };
  const titles = all("[data-in]");
  root.addEventListener("units", () => { for (const title of titles) title.textContent = told(title.dataset.in); });

  // what only a script can do is not shown without one
  for (const part of all(".switches, .map-tools, .walk, .copy, .choices")) part.hidden = false;

  // a page opened as a file may have no store: then a choice lasts as long as the page
  const remembered = (name) => { try { return localStorage.getItem(name); } catch { return null; } };
  const remember = (name, value) => { try { localStorage.setItem(name, value); } catch { /* no store */ } };
  for (const name of ["units", "light"]) {
    const boxes = all(`input[name=${name}]`);
    const choose = (value) => {
      const box = boxes.find((box) => box.value === value);
      if (!box) return;
      box.checked = true;
      root.dataset[name] = value;
      root.dispatchEvent(new Event("units"));
    };
    for (const box of boxes) {
      box.addEventListener("change", () => { choose(box.value); remember(`waterseam-${name}`, box.value); });
    }
    choose(remembered(`waterseam-${name}`));
  }

  for (const button of all(".copy")) {
    button.addEventListener("click", async () => {
      const text = button.dataset.copy;
      try {
        await navigator.clipboard.writeText(text);
        button.textContent = "copied";
      } catch {
        // no right to the clipboard: the text is selected, ready to be copied by hand
        const range = document.createRange();
        range.selectNodeContents(button.parentElement.querySelector("span"));
        getSelection().removeAllRanges();
        getSelection().addRange(range);
        button.textContent = "selected";
      }
      setTimeout(() => { button.textContent = "copy"; }, 2000);
    });
  }

  const data = one("#drawn-from") && JSON.parse(one("#drawn-from").textContent);
  const map = one("#map");
  if (!data || !map) return;

  /** A pointer's place in the units of the drawing. */
  const placeIn = (svg, event) => {
    const box = svg.getBoundingClientRect();
    const view = svg.viewBox.baseVal;
    return [((event.clientX - box.left) * view.width) / box.width, ((event.clientY - box.top) * view.height) / box.height];
  };

  // ---- the map, enlarged and moved; `point` is told what the pointer is at, `step` to go on or back by keys
  function movable([[west, east], [north, south]], point, step) {
    const chart = one("#chart"), graticule = one("#graticule");
    const { width, height } = data.map;
    let zoom = 1, left = 0, top = 0;
    // the file's own view may be of a part; the whole may need less
    const MARGIN = 40, MOST = 60;
    const fit = (from, to, length) => (length - 2 * MARGIN) / Math.max(to - from, 1);
    const LEAST = Math.min(1, fit(west, east, width), fit(north, south, height));

    const show = () => {
      // the middle of the picture stays on the trip
      const hold = (shift, length, low, high) =>
        Math.min(Math.max(shift, length / 2 - Math.max(high, length) * zoom), length / 2 - Math.min(low, 0) * zoom);
      left = hold(left, width, west, east);
      top = hold(top, height, north, south);
      chart.setAttribute("transform", `translate(${left.toFixed(2)} ${top.toFixed(2)}) scale(${zoom.toFixed(4)})`);
      map.style.setProperty("--zoom", zoom.toFixed(4));
      map.classList.toggle("moved", zoom !== 1);
      drawGraticule();
      drawScale();
    };

    const zoomAt = (factor, px, py) => {
      const next = Math.min(Math.max(zoom * factor, LEAST), MOST);
      left = px - (px - left) * (next / zoom);
      top = py - (py - top) * (next / zoom);
      zoom = next;
      show();
    };

    const shape = (name, attributes, text) => {
      const element = document.createElementNS("http://www.w3.org/2000/svg", name);
      for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
      if (text !== undefined) element.textContent = text;
      return element;
    };

    const STEPS_MIN = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 20, 30, 60, 120, 300];
    const minutes = (value, digits, places, positive, negative) => {
      const parts = 10 ** places;
      const whole = Math.round(Math.abs(value) * 60 * parts);
      const degrees = String(Math.floor(whole / (60 * parts))).padStart(digits, "0");
      const rest = ((whole % (60 * parts)) / parts).toFixed(places).padStart(3 + places, "0");
      return `${degrees}°${rest}'${value < 0 ? negative : positive}`;
    };
    const drawGraticule = () => {
      const lines = [];
      const each = (from, perPx, length, draw) => {
        const span = Math.abs(perPx) * length;
        const step = STEPS_MIN.find((step) => step >= (span * 60) / 5) / 60 || 5;
        const low = Math.min(from, from + perPx * length);
        for (let k = Math.ceil(low / step); k * step <= low + span; k += 1) {
          draw(k * step, (k * step - from) / perPx, step * 60 < 0.1 ? 2 : 1);
        }
      };
      const { lat, lon, lat_px: latPx, lon_px: lonPx } = data.map;
      each(lat - (top / zoom) * latPx, latPx / zoom, height, (value, py, places) => {
        lines.push(shape("path", { d: `M0 ${py.toFixed(1)}H${width}` }),
          shape("text", { x: 4, y: (py - 3).toFixed(1) }, minutes(value, 2, places, "N", "S")));
      });
      each(lon - (left / zoom) * lonPx, lonPx / zoom, width, (value, px, places) => {
        const round = ((value + 540) % 360) - 180;
        lines.push(shape("path", { d: `M${px.toFixed(1)} 0V${height}` }),
          shape("text", { x: (px + 4).toFixed(1), y: height - 5 }, minutes(round, 3, places, "E", "W")));
      });
      graticule.replaceChildren(...lines);
    };

    const drawScale = () => {
      const bars = Object.entries(data.units.distance).map(([system, [factor, , name]]) => {
        const mPx = data.map.m_px / zoom;
        const room = (width / 4) * mPx * factor;
        const power = 10 ** Math.floor(Math.log10(room));
        const length = [5, 2, 1].find((k) => k * power <= room) * power;
        const px = length / factor / mPx;
        const bar = shape("g", { class: `in-${system}` });
        bar.append(shape("path", { d: `M${(-px).toFixed(1)} -5V0H0V-5` }),
          shape("text", { class: "end", x: 0, y: -8 }, `${Number(length.toPrecision(2))} ${name}`));
        return bar;
      });
      one("#scale").replaceChildren(...bars);
    };

    /** A place of the picture on the chart, and how far it is enlarged. */
    const inChart = (px, py) => [(px - left) / zoom, (py - top) / zoom, zoom];

    map.addEventListener("wheel", (event) => {
      // the page scrolls as ever until the map is wanted: with a key, or once it is enlarged
      if (!event.ctrlKey && !event.metaKey && zoom === 1) return;
      event.preventDefault();
      zoomAt(Math.exp(-event.deltaY * 0.002), ...placeIn(map, event));
    }, { passive: false });

    const down = new Map();
    const spread = () => {
      const [a, b] = Array.from(down.values());
      return [Math.hypot(a[0] - b[0], a[1] - b[1]), (a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
    };
    map.addEventListener("pointerdown", (event) => {
      down.set(event.pointerId, placeIn(map, event));
      if (zoom !== 1 || event.pointerType === "mouse" || down.size > 1) map.setPointerCapture(event.pointerId);
      if (event.pointerType !== "mouse") point(event, inChart(...placeIn(map, event)));
    });
    map.addEventListener("pointermove", (event) => {
      const at = placeIn(map, event);
      if (!down.has(event.pointerId)) {
        point(event, inChart(...at));
        return;
      }
      const before = down.size === 2 ? spread() : down.get(event.pointerId);
      down.set(event.pointerId, at);
      if (down.size === 2) {
        const [apart, px, py] = spread();
        left += px - before[1];
        top += py - before[2];
        zoomAt(apart / (before[0] || apart), px, py);
      } else if (zoom !== 1 || event.pointerType === "mouse") {
        left += at[0] - before[0];
        top += at[1] - before[1];
        show();
      } else {
        point(event, inChart(...at));
      }
    });
    for (const end of ["pointerup", "pointercancel", "lostpointercapture"]) {
      map.addEventListener(end, (event) => down.delete(event.pointerId));
    }
    map.addEventListener("dblclick", (event) => zoomAt(2, ...placeIn(map, event)));
    // two fingers are the map's, one is the page's until the map is enlarged
    map.addEventListener("touchmove", (event) => { if (event.touches.length > 1) event.preventDefault(); }, { passive: false });

    const home = () => { zoom = 1; left = 0; top = 0; show(); };
    const whole = () => {
      zoom = LEAST;
      left = width / 2 - (zoom * (west + east)) / 2;
      top = height / 2 - (zoom * (north + south)) / 2;
      show();
    };
    for (const button of all("[data-zoom]")) {
      button.addEventListener("click", () => {
        if (button.dataset.zoom === "home") home();
        else if (button.dataset.zoom === "whole") whole();
        else zoomAt(button.dataset.zoom === "in" ? 1.6 : 1 / 1.6, width / 2, height / 2);
      });
    }
    map.addEventListener("keydown", (event) => {
      const far = 60;
      const keys = {
        ArrowLeft: () => { left += far; show(); }, ArrowRight: () => { left -= far; show(); },
        ArrowUp: () => { top += far; show(); }, ArrowDown: () => { top -= far; show(); },
        "+": () => zoomAt(1.6, width / 2, height / 2), "=": () => zoomAt(1.6, width / 2, height / 2),
        "-": () => zoomAt(1 / 1.6, width / 2, height / 2), 0: home,
        ",": () => step(-1), ".": () => step(1),
      };
      if (!keys[event.key] || event.ctrlKey || event.metaKey || event.altKey) return;
      event.preventDefault();
      keys[event.key]();
    });
  }

  // ---- a trip: one cursor on map, strip and section
  function trip() {
    for (const box of all("[data-layer]")) {
      if (box.tagName !== "INPUT") continue;
      box.addEventListener("change", () => {
        for (const layer of all(`#chart > .${box.dataset.layer}`)) layer.style.display = box.checked ? "" : "none";
      });
    }

    // columns of differences back to values
    const column = (name, scale) => {
      let value = 0;
      return data[name].map((step) => (step === null ? null : (value += step) * scale));
    };
    const clock = column("clock_s", 1), x = column("x", 0.1), y = column("y", 0.1), along = column("along", 0.1);
    const distance = column("distance_m", 1), temp = column("temp_cc", 0.01);
    const depth = column("depth_dm", 0.1), speed = column("speed_cmps", 0.01);

    const ends = (values) => [values.reduce((a, b) => Math.min(a, b)), values.reduce((a, b) => Math.max(a, b))];

    let here = null;
    const walk = one("#walk");
    walk.max = x.length - 1;

    const shown = (what, value) => {
      if (value === null) return null;
      const [factor, offset, name, decimals] = data.units[what][root.dataset.units];
      return `${(value * factor + offset).toFixed(decimals)} ${name}`;
    };
    const readout = () => {
      if (here === null) return "";
      const time = new Date(clock[here] * 1000).toISOString().slice(11, 16);
      const water = shown("temp", temp[here]), ground = shown("depth", depth[here]), fast = shown("speed", speed[here]);
      return [time, water && `surface ${water}`, ground && `${ground} of water`, fast, `${shown("distance", distance[here])} run`]
        .filter(Boolean).join(" · ");
    };
    const say = () => {
      const text = readout();
      if (!text) return;
      one("#readout").textContent = text;
      walk.setAttribute("aria-valuetext", text);
    };

    const point = (i) => {
      here = i;
      root.classList.add("pointing");
      one("#map-cursor").setAttribute("transform", `translate(${x[i].toFixed(1)} ${y[i].toFixed(1)})`);
      for (const line of all("#strip-cursor, #section-cursor")) line.setAttribute("transform", `translate(${along[i].toFixed(1)} 0)`);
      walk.value = i;
      say();
    };

    const nearest = (away) => {
      let best = 0, least = Infinity;
      for (let i = 0; i < x.length; i += 1) {
        const d = away(i);
        if (d < least) { least = d; best = i; }
      }
      return [best, least];
    };
    const pointAt = (px, py, zoom) => {
      const [i, d2] = nearest((i) => (x[i] - px) ** 2 + (y[i] - py) ** 2);
      if (Math.sqrt(d2) * zoom < 40) point(i);
    };
    const pointAlong = (px) => point(nearest((i) => Math.abs(along[i] - px))[0]);

    for (const svg of all("#strip, #section")) {
      svg.style.touchAction = "pan-y";
      for (const name of ["pointermove", "pointerdown"]) {
        svg.addEventListener(name, (event) => pointAlong(placeIn(svg, event)[0]));
      }
    }
    movable(
      [ends(x), ends(y)],
      (event, at) => pointAt(...at),
      (by) => point(Math.min(Math.max((here ?? 0) + 5 * by, 0), x.length - 1)),
    );
    walk.addEventListener("input", () => point(Number(walk.value)));
    root.addEventListener("units", say);
    for (const row of all("tr[data-along]")) {
      row.addEventListener("pointerenter", () => pointAlong(Number(row.dataset.along) / 10));
    }
  }

  // ---- places: one part of the season and one species at a time, and the surface of the day
  function places() {
    const part = one("#part"), species = one("#species"), surface = one("#surface");
    const cells = all("#chart .cell");
    const inWords = (words) => {
      const [phrase, ...numbers] = words.split(" ");
      let n = 0;
      return told(data.phrases[phrase].replaceAll("#", () => numbers[n++]));
    };
    let group = null, here = null;

    const show = () => {
      group = data.groups.find((group) => group.part === part.value && group.species === species.value);
      for (const cell of cells) cell.toggleAttribute("hidden", true);
      group?.places.forEach(([index, size, shade, times], n) => {
        const cell = cells[index], [outline, inner] = cell.children;
        cell.toggleAttribute("hidden", false);
        cell.dataset.place = n;
        outline.classList.toggle("run-through", size === 0);
        inner.toggleAttribute("hidden", size === 0);
        inner.setAttribute("class", `shade-${shade}${times ? " hot" : ""}`);
        inner.setAttribute("transform", `scale(${size / 100})`);
        cell.querySelector("text").textContent = times;
      });
      for (const section of all(".parts section")) section.classList.toggle("shown", section.dataset.part === part.value);
      here = null;
      say();
      compare();
    };

    /** Places whose bites came under another surface than that of the day stand back. */
    const compare = () => {
      const [factor, offset] = data.units.temp[root.dataset.units];
      const now = surface.value === "" ? null : (Number(surface.value) - offset) / factor;
      let like = 0;
      for (const [index, , , , low, high] of group?.places ?? []) {
        const under = now === null || (low !== null && high !== null && 10 * now >= low && 10 * now <= high);
        cells[index].classList.toggle("off", !under);
        like += under ? 1 : 0;
      }
      const words = [part, species].map((choice) => choice.selectedOptions[0].textContent);
      one("#shown").textContent = `${words[0]}, ${words[1] === "all" ? "all species" : words[1]}`
        + (group ? "" : ": nothing is known")
        + (now === null ? "" : `; ${like} places whose bites came under such a surface`);
    };

    const say = () => {
      for (const cell of cells) cell.classList.toggle("here", here !== null && cells[group.places[here][0]] === cell);
      one("#readout").textContent = here === null ? "Point at a place to read it." : inWords(group.words[here]);
    };
    const point = (n) => { here = n; say(); };

    for (const choice of [part, species]) choice.addEventListener("input", show);
    surface.addEventListener("input", compare);
    const lists = all("#every-place ul"), ofAll = data.groups.filter((group) => group.species === "*");
    root.addEventListener("units", () => {
      say();
      compare();
      lists.forEach((list, i) => Array.from(list.children).forEach((item, n) => { item.textContent = inWords(ofAll[i].words[n]); }));
    });
    movable(
      [[0, data.map.width], [0, data.map.height]],
      (event) => {
        const cell = document.elementFromPoint(event.clientX, event.clientY)?.closest(".cell");
        if (cell) point(Number(cell.dataset.place));
      },
      (by) => { if (group) point(Math.min(Math.max(here === null ? 0 : here + by, 0), group.places.length - 1)); },
    );
    show();
  }

  if (data.groups) places();
  else trip();
})();
