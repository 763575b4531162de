'use strict';
// Draws the charts and the section pictures from the numbers in the page. Everything else of the
// report is plain HTML and reads without this script.
(() => {
  const drawing = JSON.parse(document.getElementById('drawing').textContent);
  const start = /^(\d+)-(\d+)-(\d+)(?:[T ](\d+):(\d+))?/.exec(drawing.start);
  const startTime = start &&
      Date.UTC(start[1], start[2] - 1, start[3], start[4] || 0, start[5] || 0);
  const months = 'Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec'.split(' ');

  const colour = (name) =>
      getComputedStyle(document.documentElement).getPropertyValue('--' + name).trim();

  // A date by UTC arithmetic: the file's times are local standard time, and stay so.
  const dateAt = (day) => startTime === null ? null : new Date(startTime + day * 86400000);
  const shortDate = (day) => {
    const date = dateAt(day);
    return date ? `${date.getUTCDate()} ${months[date.getUTCMonth()]}` : '';
  };
  const longDate = (day) => {
    const date = dateAt(day);
    return date ? `${shortDate(day)} ${date.getUTCFullYear()}` : '';
  };

  const dashes = {
    skin_temperature: [6, 3],
    max_temperature: [2, 3],
    cumulative_evaporation: [6, 3],
    cumulative_leachate: [2, 3],
    free_air_space: [6, 3],
    probe_1: [6, 3],
    probe_2: [2, 3],
    probe_3: [10, 3, 2, 3],
    probe_4: [4, 2],
    probe_5: [1, 2],
  };
  const widths = {core_temperature: 2.5, air_temperature: 1.2, max_temperature: 1.4};
  const lastDay = drawing.last_day;
  const daysOf = (chart) => chart.days || (chart.daily ? drawing.row_days : drawing.days);

  // Turns, waterings and additions as signs along the top of the temperature chart.
  const signs = {
    turn: {text: 'turned', sign: '▼'},
    water: {text: 'watered', sign: '○'},
    add: {text: 'material added', sign: '✚'},
    cover: {text: 'cover changed', sign: '■'},
  };
  const marks = {
    id: 'marks',
    beforeDatasetsDraw(chart) {
      const {ctx, chartArea, scales} = chart;
      ctx.save();
      ctx.strokeStyle = colour('line');
      ctx.fillStyle = colour('ink');
      ctx.font = `11px ${Chart.defaults.font.family}`;
      ctx.textAlign = 'center';
      for (const event of drawing.events) {
        if (!(event.kind in signs)) {
          continue;
        }
        const x = scales.x.getPixelForValue(event.day);
        const row = event.kind === 'turn' ? 0 : 1;
        ctx.beginPath();
        ctx.moveTo(x, chartArea.top);
        ctx.lineTo(x, chartArea.bottom);
        ctx.stroke();
        ctx.fillText(signs[event.kind].sign, x, chartArea.top - 3 - 11 * row);
      }
      ctx.restore();
    },
  };

  // A limit as a dotted line across a chart.
  const levels = {
    id: 'levels',
    beforeDatasetsDraw(drawn, _, {level}) {
      const {ctx, chartArea, scales} = drawn;
      const y = scales.y.getPixelForValue(level.value);
      if (y <= chartArea.top || y >= chartArea.bottom) {
        return;
      }
      ctx.save();
      ctx.font = `11px ${Chart.defaults.font.family}`;
      ctx.strokeStyle = colour('soft');
      ctx.fillStyle = colour('soft');
      ctx.setLineDash([1, 3]);
      ctx.beginPath();
      ctx.moveTo(chartArea.left, y);
      ctx.lineTo(chartArea.right, y);
      ctx.stroke();
      ctx.textAlign = 'right';
      ctx.fillText(level.label, chartArea.right - 2, y - 4);
      ctx.restore();
    },
  };
  const levelOf = (chart) => chart.level || null;

  const points = (chart, values) => daysOf(chart).map((day, i) => ({x: day, y: values[i]}));
  const faded = (hex) => hex + '33';

  function lineSets(chart) {
    const sets = [];
    for (const series of chart.series.filter((one) => one.drawn)) {
      const line = colour(series.colour);
      const common = {pointRadius: 0, pointHitRadius: 0, unit: series.unit, spanGaps: false};
      sets.push({
        ...common,
        label: series.label,
        data: points(chart, series.mid),
        borderColor: line,
        backgroundColor: line,
        borderWidth: widths[series.name] || 1.8,
        borderDash: dashes[series.colour] || [],
      });
      // Two broad bands on each other are mud.
      if (series.low && series.name !== 'max_temperature') {
        const edge = {...common, label: '', borderWidth: 0, isBand: true};
        sets.push({...edge, data: points(chart, series.low)});
        sets.push({...edge, data: points(chart, series.high), fill: '-1', backgroundColor: faded(line)});
      }
    }
    return sets;
  }

  const stackSets = (chart) => chart.series.filter((one) => one.drawn).map((series, i) => ({
    label: series.label,
    unit: series.unit,
    data: points(chart, series.mid),
    fill: i === 0 ? 'origin' : '-1',
    backgroundColor: colour(series.colour),
    borderColor: colour('panel'),
    borderWidth: 1,
    pointRadius: 0,
    pointHitRadius: 0,
  }));

  function barSets(chart) {
    return chart.series.filter((one) => one.drawn).map((series) => ({
      label: series.label,
      unit: series.unit,
      data: points(chart, series.mid).map((point, i) => ({
        x: (point.x + (i ? drawing.row_days[i - 1] : 0)) / 2,
        y: point.y,
      })),
      backgroundColor: colour(series.colour),
      barPercentage: 0.9,
      categoryPercentage: 1,
    }));
  }

  const dayStep = () => [1, 2, 7, 14, 28, 91, 182].find((step) => lastDay / step <= 14) || 364;
  const digits = (value) => Math.abs(value) >= 100 ? value.toFixed(0) : value.toPrecision(3);

  function options(chart) {
    const text = colour('soft');
    const grid = {color: colour('grid'), borderColor: colour('line')};
    const stacked = chart.kind === 'stack';
    const bars = chart.kind === 'bars';
    return {
      animation: false,
      // Screens with few pixels print with many.
      devicePixelRatio: Math.max(devicePixelRatio, 2),
      responsive: true,
      maintainAspectRatio: false,
      parsing: false,
      normalized: true,
      interaction: {mode: bars ? 'nearest' : 'index', axis: 'x', intersect: false},
      layout: {padding: {top: chart.id === 'temperature' ? 26 : 4}},
      scales: {
        x: {
          type: 'linear',
          min: 0,
          max: lastDay,
          offset: false,
          grid: {...grid, offset: false},
          afterBuildTicks: (scale) => {
            const count = Math.floor(lastDay / dayStep()) + 1;
            scale.ticks = Array.from({length: count}, (_, i) => ({value: i * dayStep()}));
          },
          ticks: {
            color: text,
            maxRotation: 0,
            autoSkipPadding: 12,
            callback: (day) => startTime === null ? `day ${day}` : [`day ${day}`, shortDate(day)],
          },
        },
        y: {
          stacked,
          beginAtZero: !['temperature', 'probes', 'moisture'].includes(chart.id),
          // A limit stays in sight with its name above it.
          suggestedMax: chart.level ? 1.15 * chart.level.value : undefined,
          grace: stacked ? 0 : '5%',
          grid,
          title: {display: chart.unit !== '', text: chart.unit, color: text},
          ticks: {color: text, maxTicksLimit: bars ? 3 : 8},
          // One width for all, so that days stand under days from chart to chart.
          afterFit: (scale) => { scale.width = 68; },
        },
      },
      plugins: {
        legend: {
          display: chart.series.filter((one) => one.drawn).length > 1,
          position: 'bottom',
          align: 'start',
          reverse: stacked,
          labels: {
            color: colour('ink'),
            boxWidth: stacked ? 12 : 30,
            boxHeight: stacked ? 12 : 18,
            usePointStyle: !stacked,
            pointStyle: 'line',
            filter: (item, data) => !data.datasets[item.datasetIndex].isBand,
          },
        },
        levels: {level: levelOf(chart)},
        tooltip: {
          filter: (item) => !item.dataset.isBand,
          itemSort: stacked ? (a, b) => b.datasetIndex - a.datasetIndex : undefined,
          callbacks: {
            title: (items) => items.length === 0 ? '' :
                `Day ${items[0].parsed.x.toFixed(1)}  ${longDate(items[0].parsed.x)}`,
            label: (item) => `${item.dataset.label}: ${digits(item.parsed.y)} ${item.dataset.unit}`,
          },
        },
      },
    };
  }

  const makers = {lines: lineSets, stack: stackSets, bars: barSets};
  let live = [];
  function drawCharts() {
    live.forEach((chart) => chart.destroy());
    const body = getComputedStyle(document.body);
    Chart.defaults.font.family = body.fontFamily;
    Chart.defaults.font.size = 12;
    live = drawing.charts.map((chart) =>
      new Chart(document.querySelector(`canvas[data-chart="${chart.id}"]`), {
        type: chart.kind === 'bars' ? 'bar' : 'line',
        data: {datasets: makers[chart.kind](chart)},
        options: options(chart),
        plugins: [...(chart.id === 'temperature' ? [marks] : []),
                  ...(levelOf(chart) ? [levels] : [])],
      }));
  }

  function explainMarks() {
    const line = document.querySelector('.marks');
    const kinds = Object.keys(signs).filter((kind) =>
      drawing.events.some((event) => event.kind === kind));
    if (line === null || kinds.length === 0) {
      return;
    }
    line.hidden = false;
    for (const kind of kinds) {
      const note = document.createElement('span');
      note.textContent = `${signs[kind].sign} ${signs[kind].text}`;
      line.append(note);
    }
  }

  // Every point that is drawn, not only the days of the table.
  function csv(id) {
    const chart = drawing.charts.find((one) => one.id === id);
    const head = ['day'];
    const columns = [daysOf(chart)];
    for (const series of chart.series) {
      for (const which of ['low', 'mid', 'high'].filter((one) => series[one])) {
        head.push(`"${series.label.replaceAll('"', '""')}${which === 'mid' ? '' : ' ' + which} (${series.unit})"`);
        columns.push(series[which]);
      }
    }
    const rows = columns[0].map((_, i) => columns.map((column) => column[i] ?? '').join(','));
    return [head.join(','), ...rows, ''].join('\r\n');
  }
  function sectionCsv(section) {
    const count = section.cells.length;
    const names = section.fields.map((field) => `"${field.name} (${field.unit})"`);
    const rows = section.days.flatMap((day, i) => section.cells.map((_, cell) => [
      day, cell, ...section.centres[cell],
      ...section.fields.map((field) => field.values[i * count + cell] ?? ''),
    ].join(',')));
    return [['day,cell,x (m),z (m)', ...names].join(','), ...rows, ''].join('\r\n');
  }

  for (const link of document.querySelectorAll('a[data-csv]')) {
    const id = link.dataset.csv;
    link.download = `${id}.csv`;
    link.addEventListener('click', () => {
      const text = id === 'section' ? sectionCsv(drawing.section) : csv(id);
      link.href = 'data:text/csv;charset=utf-8,' + encodeURIComponent(text);
    });
  }

  function drawSection(section) {
    const namespace = 'http://www.w3.org/2000/svg';
    const element = (name) => document.createElementNS(namespace, name);
    const pictures = section.fields.map((field, index) => {
      const svg = element('svg');
      svg.setAttribute('class', 'section');
      svg.setAttribute('viewBox', section.view_box);
      const half = element('g');
      half.id = `live-${index}`;
      half.setAttribute('class', `map-${field.name}`);
      half.setAttribute('stroke-width', section.seam);
      const cells = section.cells.map((outline) => {
        const path = element('path');
        path.setAttribute('d', outline);
        path.append(element('title'));
        half.append(path);
        return path;
      });
      svg.innerHTML = section.frame;
      svg.prepend(half);
      if (section.mirrored) {
        const other = element('use');
        other.setAttribute('href', `#live-${index}`);
        other.setAttribute('transform', 'scale(-1 1)');
        svg.prepend(other);
      }
      document.querySelector(`[data-field="${field.name}"]`).append(svg);
      return cells;
    });
    const slider = document.getElementById('day');
    const shown = document.getElementById('day-shown');
    const show = () => {
      const day = Number(slider.value);
      const date = longDate(section.days[day]);
      shown.textContent = section.days[day].toFixed(0) + (date ? ` · ${date}` : '');
      slider.setAttribute('aria-valuetext', `day ${shown.textContent}`);
      section.fields.forEach((field, index) => {
        pictures[index].forEach((path, cell) => {
          const value = field.values[day * section.cells.length + cell];
          const above = field.breaks.findIndex((edge) => value < edge);
          path.setAttribute('class', value === null ? 'nothing' :
              `c${above < 0 ? field.breaks.length : above}`);
          path.firstChild.textContent = value === null ? '' : `${value} ${field.unit}`;
        });
      });
    };
    slider.addEventListener('input', show);
    // Open on the day of the hottest cell: the one people ask about.
    const peaks = section.days.map((_, day) => Math.max(...section.fields[0].values.slice(
        day * section.cells.length, (day + 1) * section.cells.length)));
    slider.value = peaks.indexOf(Math.max(...peaks));
    show();
  }

  drawCharts();
  explainMarks();
  if (drawing.section) {
    drawSection(drawing.section);
  }
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', drawCharts);
  // On paper: light colours, canvases of the paper's width, advice in full.
  let opened = [];
  addEventListener('beforeprint', () => {
    document.documentElement.classList.add('printing');
    opened = [...document.querySelectorAll('.caution:not([open])')];
    opened.forEach((caution) => { caution.open = true; });
    drawCharts();
  });
  addEventListener('afterprint', () => {
    document.documentElement.classList.remove('printing');
    opened.forEach((caution) => { caution.open = false; });
    drawCharts();
  });
})();
