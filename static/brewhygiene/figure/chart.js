/* A chart in the place of the server's drawing: its dots are read by touch and by arrow keys. */
(function (figures) {
  "use strict";

  // A chart over time with more dots than these can be looked at more closely.
  const MANY = 60;
  const { coarse, narrow, dark, placeOn, tracesOf, layoutOf } = figures;

  class Reader {
    constructor(owner) {
      this.owner = owner;
      this.at = null;
    }

    get series() { return this.owner.series.filter((each) => each.order.length); }

    // By keys: along a series, or to the next series at about the same place.
    move(key) {
      const every = this.series;
      if (!every.length) return;
      let [which, place] = this.at || [0, -1];
      which = Math.min(which, every.length - 1);
      const last = every[which].order.length - 1;
      if (key === "ArrowRight") place = Math.min(place + 1, last);
      else if (key === "ArrowLeft") place = place < 0 ? last : Math.max(place - 1, 0);
      else if (key === "Home") place = 0;
      else if (key === "End") place = last;
      else {
        const from = every[which];
        const x = place < 0 ? null : from.x[from.order[place]];
        which = Math.min(Math.max(which + (key === "ArrowDown" ? 1 : -1), 0), every.length - 1);
        place = x === null ? 0 : this.nearest(every[which], x, place);
      }
      this.at = [which, place];
      this.read(every[which], every[which].order[place], true);
    }

    nearest(series, x, place) {
      let best = Math.min(place, series.order.length - 1);
      series.order.forEach(function (point, n) {
        if (Math.abs(series.x[point] - x) < Math.abs(series.x[series.order[best]] - x)) best = n;
      });
      return best;
    }

    touched(point) {
      const every = this.series;
      const which = every.findIndex((each) => each.curve === point.curveNumber);
      if (which < 0) return;
      const place = every[which].order.indexOf(point.pointNumber);
      this.at = [which, place];
      const link = every[which].links[point.pointNumber];
      if (link && !coarse.matches) window.location.assign(link);
      else this.read(every[which], point.pointNumber, false);
    }

    read(series, point, byKey) {
      const reading = this.owner.reading;
      reading.classList.add("filled");
      const words = document.createElement("span");
      words.textContent = series.words[point];
      reading.replaceChildren(words);
      this.link = series.links[point] || "";
      if (this.link) {
        const way = document.createElement("a");
        way.href = this.link;
        way.className = "button quiet";
        way.textContent = "Open";
        reading.append(way);
      }
      if (byKey) {
        this.into(series.x[point]);
        window.Plotly.Fx.hover(
          this.owner.node, [{ curveNumber: series.curve, pointNumber: point }], [series.subplot],
        );
      }
    }

    // A dot outside what is shown is brought into it.
    into(x) {
      if (this.owner.chart.x.kind === "category" || typeof x !== "number") return;
      const [low, high] = this.owner.range();
      if (x >= low && x <= high) return;
      const half = (high - low) / 2;
      this.owner.show([x - half, x + half]);
    }

    follow() {
      if (this.link) window.location.assign(this.link);
    }
  }

  class Chart {
    constructor(figure) {
      this.figure = figure;
      this.chart = JSON.parse(document.getElementById(figure.dataset.figure).textContent);
      this.series = [];
      this.drawing = figure.querySelector(".figure-drawing");
      this.node = document.createElement("div");
      this.node.className = "figure-chart";
      this.node.tabIndex = 0;
      this.node.setAttribute("role", "application");
      this.node.setAttribute("aria-roledescription", "chart");
      this.node.setAttribute("aria-labelledby", `${figure.id}-caption`);
      this.reading = document.createElement("p");
      this.reading.className = "figure-reading";
      this.reading.id = `${figure.id}-reading`;
      this.reading.setAttribute("aria-live", "polite");
      this.node.setAttribute("aria-describedby", `${figure.id}-says ${this.reading.id}`);
      this.reading.textContent = "Touch a dot to read it. On a keyboard: arrow keys, then Enter to open it.";
      this.reader = new Reader(this);
    }

    begin() {
      const focused = this.drawing.contains(document.activeElement);
      this.drawing.before(this.node);
      this.node.after(this.reading);
      this.drawing.hidden = true;
      return this.draw().then(() => {
        this.node.on("plotly_click", (event) => this.reader.touched(event.points[0]));
        this.node.addEventListener("keydown", (event) => this.key(event));
        if (!this.series.some((each) => each.order.length)) this.reading.hidden = true;
        this.addTools();
        this.figure.dataset.drawn = "yes";
        if (focused) this.node.focus();
        [dark, narrow].forEach((query) => query.addEventListener("change", () => this.draw()));
        let width = this.node.clientWidth;
        new ResizeObserver(() => {
          if (this.node.clientWidth && this.node.clientWidth !== width) {
            width = this.node.clientWidth;
            this.draw();
          }
        }).observe(this.node);
      });
    }

    draw() {
      this.chart.width = this.node.clientWidth;
      const { traces, series } = tracesOf(this.chart);
      this.series = series;
      const layout = layoutOf(this.chart, this.node.clientWidth);
      layout.width = this.node.clientWidth;
      return window.Plotly.react(this.node, traces, layout, {
        displayModeBar: false, responsive: false, doubleClick: "reset", scrollZoom: false,
      });
    }

    key(event) {
      if (event.target !== this.node || event.altKey || event.ctrlKey || event.metaKey) return;
      if (["ArrowRight", "ArrowLeft", "ArrowUp", "ArrowDown", "Home", "End"].includes(event.key)) {
        event.preventDefault();
        this.reader.move(event.key);
      } else if (event.key === "Enter") {
        this.reader.follow();
      } else if (event.key === "Escape") {
        window.Plotly.Fx.unhover(this.node);
      }
    }

    range() {
      return this.node.layout.xaxis.range.map((end) =>
        typeof end === "number" ? end : Date.parse(`${String(end).replace(" ", "T")}Z`));
    }

    show(range) {
      return window.Plotly.relayout(this.node, { "xaxis.range": range });
    }

    addTools() {
      const most = Math.max(0, ...this.series.map((each) => each.order.length));
      if (this.chart.x.kind !== "time" || most <= MANY) return;
      const tools = document.createElement("div");
      tools.className = "figure-tools";
      tools.setAttribute("role", "group");
      tools.setAttribute("aria-label", `What is shown of ${this.chart.caption}`);
      const add = function (words, work) {
        const button = document.createElement("button");
        button.type = "button";
        button.textContent = words;
        button.addEventListener("click", work);
        tools.append(button);
      };
      const shift = (share) => () => {
        const [low, high] = this.range();
        this.show([low + (high - low) * share, high + (high - low) * share]);
      };
      const zoom = (factor) => () => {
        const [low, high] = this.range();
        const half = ((high - low) / 2) * factor;
        this.show([(low + high) / 2 - half, (low + high) / 2 + half]);
      };
      add("All", () => this.show(this.chart.x.ends.map(placeOn(this.chart.x))));
      add("Earlier", shift(-0.5));
      add("Later", shift(0.5));
      add("Closer", zoom(0.5));
      add("Wider", zoom(2));
      this.node.before(tools);
    }
  }

  figures.draw = (figure) => new Chart(figure).begin();
})(window.figures ||= {});
