// The live tooth's page: sliders, flanks on canvas, the gear pair. The numbers come from contact.js.
// liveTooth.start(data, options) drives the elements of live.html. options.length(mm) words lengths (else both units are
// told); options.three is a promise that three.js is there (else it is there already). What it returns: show(set) takes another set of the form of data.sets[0], stop() lets go of everything.

// Surfaces and solids of the gear pair.
var gearSolids = {
    vertex(points, k) {
        return [points[3 * k], points[3 * k + 1], points[3 * k + 2]];
    },
    turnedX(p, a) {
        return [p[0], p[1] * Math.cos(a) - p[2] * Math.sin(a), p[1] * Math.sin(a) + p[2] * Math.cos(a)];
    },
    turnedZ(p, a) {
        return [p[0] * Math.cos(a) - p[1] * Math.sin(a), p[0] * Math.sin(a) + p[1] * Math.cos(a), p[2]];
    },
    between(a, b, t) {
        return a.map((value, k) => value + t * (b[k] - value));
    },
    // A surface from lines of points of the same length; uv along and across it.
    surface(lines) {
        var columns = lines[0].length,
            positions = [],
            uv = [],
            triangles = [];
        lines.forEach((line, j) => {
            line.forEach((p, i) => {
                positions.push(p[0], p[1], p[2]);
                uv.push(i / (columns - 1), j / (lines.length - 1));
                if (i + 1 < columns && j + 1 < lines.length) {
                    var a = j * columns + i;
                    triangles.push(a, a + 1, a + columns + 1, a, a + columns + 1, a + columns);
                }
            });
        });
        var geometry = new Three.BufferGeometry();
        geometry.setAttribute("position", new Three.BufferAttribute(new Float32Array(positions), 3));
        geometry.setAttribute("uv", new Three.BufferAttribute(new Float32Array(uv), 2));
        geometry.setIndex(triangles);
        geometry.computeVertexNormals();
        return geometry;
    },
    // A solid turned about an axis: points (place along the axis, radius).
    turnedSolid(profile, about) {
        var lines = profile.map((point) => {
            var line = [];
            for (var k = 0; k <= 96; ++k) {
                var a = (2 * Math.PI * k) / 96,
                    c = point[1] * Math.cos(a),
                    s = point[1] * Math.sin(a);
                line.push(about === "x" ? [point[0], c, s] : [c, s, point[0]]);
            }
            return line;
        });
        // Sharp edges: each band by itself.
        return lines.slice(1).map((line, k) => gearSolids.surface([lines[k], line]));
    },
    // Lines of points of both flanks of one gear, from its root to its tip.
    flanks(g, coded) {
        var linesOf = (base64) => {
            var points = contact.floats(base64),
                lines = [];
            for (var j = 0; j < g.rows; ++j) {
                lines.push([]);
                for (var i = 0; i < g.columns; ++i) lines[j].push(gearSolids.vertex(points, j * g.columns + i));
            }
            return lines;
        };
        return { drive: linesOf(coded.drive), coast: linesOf(coded.coast) };
    },
    // The ends of a tooth, or of the gap between two: from the lines of one flank to those of the other.
    ends(one, other) {
        return [0, one[0].length - 1].map((i) =>
            gearSolids.surface([one.map((line) => line[i]), other.map((line) => line[i])]),
        );
    },
    // The same piece all round an axis.
    repeated(geometry, material, count, axis, order) {
        var mesh = new Three.InstancedMesh(geometry, material, count),
            matrix = new Three.Matrix4();
        for (var k = 0; k < count; ++k) {
            matrix[axis === "x" ? "makeRotationX" : "makeRotationZ"]((2 * Math.PI * k) / count);
            mesh.setMatrixAt(k, matrix);
        }
        mesh.frustumCulled = false;
        mesh.renderOrder = order || 0;
        return mesh;
    },
    // The ring gear behind its teeth.
    ringBody(ring) {
        var middle = (i) => {
            var a = ring.drive[0][i],
                b = ring.coast[0][i];
            return [0.5 * (a[2] + b[2]) + 0.4, 0.5 * (Math.hypot(a[0], a[1]) + Math.hypot(b[0], b[1]))];
        };
        var toe = middle(0),
            heel = middle(ring.drive[0].length - 1),
            back = Math.max(toe[0], heel[0]) + 12,
            bore = 0.8 * toe[1];
        return gearSolids.turnedSolid(
            [[toe[0] + 2, bore], toe, heel, [back, heel[1]], [back, bore], [toe[0] + 2, bore]],
            "z",
        );
    },
    // The pinion's head below its teeth, and its shaft.
    pinionBody(pinion) {
        var tips = pinion.drive[pinion.drive.length - 1];
        var core = (i) => [tips[i][0], Math.hypot(tips[i][1], tips[i][2]) - 1.3];
        var inner = core(0),
            outer = core(tips.length - 1),
            shaft = 0.62 * outer[1];
        var way = outer[0] > inner[0] ? 1 : -1;
        return gearSolids.turnedSolid(
            [
                [inner[0], 0],
                inner,
                outer,
                [outer[0] + 2 * way, shaft],
                [outer[0] + 42 * way, shaft],
                [outer[0] + 42 * way, 0],
            ],
            "x",
        );
    },
    // The coast flank across the pinion's tooth from its drive flank: the next one on the side where they lie closer.
    nextCoast(pinion, step) {
        var mid = (pinion.drive[0].length - 1) / 2;
        var gap = (a) => {
            var p = pinion.drive[0][mid],
                q = gearSolids.turnedX(pinion.coast[0][mid], a);
            return Math.hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2]);
        };
        var over = gap(step) < gap(-step) ? step : -step;
        return pinion.coast.map((line) => line.map((p) => gearSolids.turnedX(p, over)));
    },
    // Where the tooth comes to a point before its tip, it ends there.
    endAtPoint(pinion, nextCoast, step) {
        var columns = pinion.drive[0].length,
            last = pinion.drive.length - 1,
            mid = (columns - 1) / 2;
        var thickness = (j, i) => {
            var p = pinion.drive[j][i],
                q = nextCoast[j][i],
                a = Math.atan2(q[2], q[1]) - Math.atan2(p[2], p[1]);
            return Math.atan2(Math.sin(a), Math.cos(a));
        };
        for (var i = 0; i < columns; ++i) {
            for (var j = last - 1; j >= 0; --j) {
                if (thickness(j, i) * thickness(last, mid) > 0 && Math.abs(thickness(j, i)) > 0.05 * step) continue;
                [pinion.drive, pinion.coast, nextCoast].forEach((lines) => {
                    lines[j][i] = lines[j + 1][i];
                });
            }
        }
    },
    // The bottom of the gap between two teeth of the pinion.
    pinionGap(pinion) {
        var last = pinion.drive.length - 1;
        var sunk = (t) =>
            pinion.drive[last].map((p, i) => {
                var q = gearSolids.between(p, pinion.coast[last][i], t),
                    r = Math.hypot(q[1], q[2]),
                    k = (r - 1.2) / r;
                return [q[0], q[1] * k, q[2] * k];
            });
        return gearSolids.surface([pinion.drive[last], sunk(0.25), sunk(0.75), pinion.coast[last]]);
    },
};

// The gear pair of the page of a live tooth; it throws where the browser shows nothing in three dimensions.
var GearView = class {
    constructor(page) {
        this.page = page;
        this.renderer = new Three.WebGLRenderer({ antialias: true, alpha: true });
        this.box = document.getElementById("view");
        this.around = 0;
        this.height = 0;
        this.zoom = 1;
        this.root = null;
        this.textures = {};
        this.seen = true;
        this.painted = null;
        this.setUpScene();
        this.hearDrags();
        this.hearKeysAndWheel();
        this.watchBox();
        page.letGo.push(() => {
            this.drop();
            this.renderer.dispose();
            this.renderer.forceContextLoss();
        });
        this.build();
    }

    setUpScene() {
        this.renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));
        this.box.appendChild(this.renderer.domElement);
        this.scene = new Three.Scene();
        this.camera = new Three.PerspectiveCamera(32, 1, 1, 3000);
        this.scene.add(new Three.HemisphereLight(0xffffff, 0x8a94a0, 1.7));
        this.sun = new Three.DirectionalLight(0xffffff, 2.2);
        this.scene.add(this.sun);
        this.scene.add(this.sun.target);
        liveTooth.sides.forEach((side) => {
            var canvas = document.createElement("canvas");
            canvas.width = contact.columns * 2;
            canvas.height = contact.rows * 2;
            var texture = new Three.CanvasTexture(canvas);
            texture.colorSpace = Three.SRGBColorSpace;
            this.textures[side] = texture;
        });
    }

    hearDrags() {
        var drag = null;
        var end = () => {
            drag = null;
        };
        this.box.addEventListener("pointerdown", (event) => {
            drag = [event.clientX, event.clientY];
        });
        this.page.listen(window, "pointerup", end);
        this.page.listen(window, "pointercancel", end);
        this.page.listen(window, "pointermove", (event) => {
            if (!drag) return;
            this.turnBy(
                (event.clientX - drag[0]) * 0.008,
                event.pointerType === "mouse" ? (event.clientY - drag[1]) * 0.008 : 0,
            );
            drag = [event.clientX, event.clientY];
        });
    }

    hearKeysAndWheel() {
        var steps = { ArrowLeft: [-0.1, 0], ArrowRight: [0.1, 0], ArrowUp: [0, 0.1], ArrowDown: [0, -0.1] };
        this.box.addEventListener("keydown", (event) => {
            var step = steps[event.key];
            if (!step) return;
            event.preventDefault();
            this.turnBy(step[0], step[1]);
        });
        this.box.addEventListener(
            "wheel",
            (event) => {
                if (!event.ctrlKey) return;
                event.preventDefault();
                this.zoom = Math.min(Math.max(this.zoom * Math.exp(event.deltaY * 0.002), 0.4), 2.5);
                this.page.ask();
            },
            { passive: false },
        );
    }

    // What nobody sees is not drawn: on a phone the sliders lie above the gears.
    watchBox() {
        if (window.IntersectionObserver) {
            this.seen = false;
            var sight = new IntersectionObserver((entries) => {
                this.seen = entries[entries.length - 1].isIntersecting;
                if (this.seen) this.page.ask();
            });
            sight.observe(this.box);
            this.page.letGo.push(() => sight.disconnect());
        }
        if (window.ResizeObserver) {
            var watch = new ResizeObserver(() => this.page.ask());
            watch.observe(this.box);
            this.page.letGo.push(() => watch.disconnect());
        }
    }

    build() {
        var g = this.page.set.gear;
        this.drop();
        this.root = new Three.Group();
        this.ring = new Three.Group();
        this.pinion = new Three.Group();
        this.pinion.rotation.order = "YXZ"; // its axis tilts with the shaft angle, and it turns about that
        this.root.add(this.ring);
        this.root.add(this.pinion);
        // The frame shows a right-hand ring gear; a left-hand one is its mirror image.
        if (g.left_hand) this.root.scale.y = -1;
        this.buildRing(g);
        this.buildPinion(g);
        this.scene.add(this.root);
        this.target = g.pitch_point.slice();
        if (g.left_hand) this.target[1] = -this.target[1];
        this.reach = 6.8 * this.page.set.face_width_mm;
        this.lookAt(document.getElementById("look").value);
        this.showPinion(document.getElementById("pinion").value);
    }

    buildRing(g) {
        var ring = gearSolids.flanks(g, g.ring),
            last = g.rows - 1;
        var steel = new Three.MeshStandardMaterial({
            color: 0xaeb8c1,
            metalness: 0.25,
            roughness: 0.55,
            side: Three.DoubleSide,
        });
        var add = (geometry, material) =>
            this.ring.add(gearSolids.repeated(geometry, material || steel, g.ring_teeth, "z"));
        liveTooth.sides.forEach((side) => {
            add(
                gearSolids.surface(ring[side].slice(1)),
                new Three.MeshStandardMaterial({
                    map: this.textures[side],
                    metalness: 0.15,
                    roughness: 0.6,
                    side: Three.DoubleSide,
                }),
            );
            add(gearSolids.surface([ring[side][0], ring[side][1]]));
        });
        add(gearSolids.surface([ring.drive[last], ring.coast[last]]));
        var nextDrive = ring.drive[0].map((p) => gearSolids.turnedZ(p, (2 * Math.PI) / g.ring_teeth));
        add(gearSolids.surface([ring.coast[0], nextDrive]));
        gearSolids.ends(ring.drive, ring.coast).forEach((end) => add(end));
        gearSolids.ringBody(ring).forEach((band) => this.ring.add(new Three.Mesh(band, steel)));
    }

    buildPinion(g) {
        var pinion = gearSolids.flanks(g, g.pinion),
            step = (2 * Math.PI) / g.pinion_teeth,
            nextCoast = gearSolids.nextCoast(pinion, step);
        gearSolids.endAtPoint(pinion, nextCoast, step);
        this.pinionSteel = new Three.MeshStandardMaterial({
            color: 0xc4b59a,
            metalness: 0.25,
            roughness: 0.5,
            side: Three.DoubleSide,
        });
        // Seen through, only the nearest surface of the pinion tints what lies behind: its depth is drawn first.
        var shade = new Three.MeshStandardMaterial({ colorWrite: false, transparent: true, side: Three.DoubleSide });
        var layers = [shade, this.pinionSteel];
        var add = (geometry) =>
            layers.forEach((material, k) =>
                this.pinion.add(gearSolids.repeated(geometry, material, g.pinion_teeth, "x", k + 1)),
            );
        liveTooth.sides.forEach((side) => add(gearSolids.surface(pinion[side])));
        add(gearSolids.pinionGap(pinion));
        add(gearSolids.surface([pinion.drive[0], nextCoast[0]]));
        gearSolids.ends(pinion.drive, nextCoast).forEach(add);
        gearSolids.pinionBody(pinion).forEach((band) =>
            layers.forEach((material, k) => {
                var mesh = new Three.Mesh(band, material);
                mesh.renderOrder = k + 1;
                this.pinion.add(mesh);
            }),
        );
    }

    turnBy(dx, dy) {
        this.around += dx;
        this.height = Math.min(Math.max(this.height + dy, -0.3), 1.5);
        this.page.ask();
    }

    drop() {
        if (!this.root) return;
        this.scene.remove(this.root);
        this.root.traverse((part) => {
            if (part.geometry) part.geometry.dispose();
            if (part.material) part.material.dispose();
        });
        this.root = null;
    }

    showPinion(how) {
        this.pinion.visible = how !== "none";
        this.pinionSteel.transparent = how === "glass";
        this.pinionSteel.opacity = how === "glass" ? 0.4 : 1;
        this.pinionSteel.needsUpdate = true;
        this.page.ask();
    }

    lookAt(side) {
        this.around = side === "drive" ? -0.35 : 0.35;
        this.height = 0.4;
        this.page.ask();
    }

    paint(filmMm) {
        liveTooth.sides.forEach((side) => {
            var texture = this.textures[side],
                canvas = texture.image,
                context = canvas.getContext("2d");
            var image = context.createImageData(canvas.width, canvas.height),
                s = this.page.marks[side].separation;
            var columns = contact.columns,
                rows = contact.rows;
            for (var y = 0; y < canvas.height; ++y) {
                var row = (1 - (y + 0.5) / canvas.height) * rows - 0.5,
                    j = Math.min(Math.max(Math.floor(row), 0), rows - 2);
                for (var x = 0; x < canvas.width; ++x) {
                    var column = ((x + 0.5) / canvas.width) * columns - 0.5,
                        i = Math.min(Math.max(Math.floor(column), 0), columns - 2);
                    var c = j * columns + i,
                        right = column - i,
                        above = row - j;
                    var low = s[c] + right * (s[c + 1] - s[c]);
                    var high = s[c + columns] + right * (s[c + columns + 1] - s[c + columns]);
                    var share = contact.mark(low + above * (high - low), filmMm),
                        at = 4 * (y * canvas.width + x);
                    image.data[at] = 200 + share * (11 - 200);
                    image.data[at + 1] = 208 + share * (92 - 208);
                    image.data[at + 2] = 216 + share * (148 - 216);
                    image.data[at + 3] = 255;
                }
            }
            context.putImageData(image, 0, 0);
            texture.needsUpdate = true;
        });
    }

    draw(now) {
        var wide = this.box.clientWidth,
            high = this.box.clientHeight,
            g = this.page.set.gear;
        if (!wide || !high) return;
        if (this.wide !== wide || this.high !== high) {
            this.wide = wide;
            this.high = high;
            this.renderer.setSize(wide, high);
            this.camera.aspect = wide / high;
            this.camera.updateProjectionMatrix();
        }
        var angle = ((document.getElementById("roll").value / 1000) * 4 * 2 * Math.PI) / g.ring_teeth;
        var error = contact.setting(this.page.set, this.page.data.film_mm, now).error;
        this.ring.rotation.z = angle;
        this.ring.position.z = -error[1];
        this.pinion.rotation.x = g.ratio * angle;
        this.pinion.rotation.y = error[3];
        this.pinion.position.set(-error[0], g.offset_mm + error[2], 0);
        // The camera goes round the point of mesh on the side of the teeth (-Z); up is away from the ring gear's axis.
        var t = this.target,
            out = Math.hypot(t[0], t[1]),
            ox = t[0] / out,
            oy = t[1] / out,
            mirror = g.left_hand ? -1 : 1;
        var a = this.around * mirror,
            h = this.height,
            reach = this.reach * this.zoom * Math.max(1, (1.25 * high) / wide);
        var sx = -oy,
            sy = ox;
        var flat = Math.sin(a) * Math.cos(0.5 * h),
            rise = Math.sin(h) * 0.55,
            front = Math.cos(a) * 0.9;
        this.camera.up.set(ox, oy, 0);
        this.camera.position.set(
            t[0] + reach * (flat * sx + rise * ox),
            t[1] + reach * (flat * sy + rise * oy),
            t[2] - reach * front,
        );
        this.camera.lookAt(t[0], t[1], t[2]);
        this.sun.position.copy(this.camera.position);
        this.sun.position.x += reach * 0.4 * ox;
        this.sun.position.y += reach * 0.4 * oy;
        this.sun.target.position.set(t[0], t[1], t[2]);
        this.renderer.render(this.scene, this.camera);
    }
};

var LiveTooth = class {
    constructor(data, options) {
        this.data = data;
        // A page may leave some of them out.
        this.sliders = Object.keys(contact.right)
            .concat("backlash")
            .filter((id) => document.getElementById(id));
        this.length = options.length || flankWords.length;
        this.three = options.three;
        this.set = null;
        this.stopped = false;
        this.letGo = [];
        this.trail = { drive: [], coast: [] };
        this.marks = {};
        this.gears = null;
        this.asked = false;
        this.changed = true;
        this.playing = false;
        this.turn = 0;
        this.filmMm = data.film_mm;
    }

    begin() {
        this.hearSetChoice();
        this.hearControls();
        this.hearPage();
        if (this.data.sets.length > 1) this.choose(this.data.sets[0].name);
        else this.show(this.data.sets[0]);
        this.draw();
        // The marks first, then the gears: the first picture must not wait.
        setTimeout(() => {
            Promise.resolve(this.three).then(
                () => {
                    if (this.stopped) return;
                    this.makeGears();
                    this.askAnew();
                },
                () => this.noGears(),
            );
        }, 30);
    }

    stop() {
        this.stopped = true;
        this.letGo.forEach((one) => one());
    }

    noGears() {
        if (this.stopped) return;
        document.getElementById("view").hidden = true;
        document.getElementById("no-view").hidden = false;
        document.querySelector(".viewbar").hidden = true;
    }

    makeGears() {
        try {
            this.gears = new GearView(this);
        } catch (error) {
            this.noGears();
        }
    }

    // What is wrong with the setting, as far as it shows in the marks.
    faults(now) {
        var limits = this.set.limits_backlash_mm,
            say = lessonWords.say,
            why = [],
            depth = this.length(Math.abs(now.depth)),
            offset = this.length(Math.abs(now.offset)),
            shaft = flankWords.angle(now.shaft);
        if (now.depth > this.set.no_move_mm) why.push(say("lesson.why-deep", depth));
        if (now.depth < -this.set.no_move_mm) why.push(say("lesson.why-shallow", depth));
        if (flankWords.isOver(now.backlash, this.set))
            why.push(say("lesson.why-backlash-over", this.length(now.backlash - limits[1])));
        if (flankWords.isUnder(now.backlash, this.set))
            why.push(say("lesson.why-backlash-under", this.length(limits[0] - now.backlash)));
        if (now.offset > this.set.no_move_mm) why.push(say("lesson.why-offset-large", offset));
        if (now.offset < -this.set.no_move_mm) why.push(say("lesson.why-offset-small", offset));
        if (now.shaft > 0) why.push(say("lesson.why-shaft-large", shaft));
        if (now.shaft < 0) why.push(say("lesson.why-shaft-small", shaft));
        if (now.crown < 0.75) why.push(say("lesson.why-crown"));
        if (now.film > 1.4) why.push(say("lesson.why-thick"));
        if (now.film < 0.7) why.push(say("lesson.why-thin"));
        if (Math.abs(now.bias) > 7) why.push(say("lesson.why-bias"));
        return why;
    }

    // Where both marks lie and which edges they run off.
    seenWords() {
        var drive = this.marks.drive.pattern,
            coast = this.marks.coast.pattern,
            say = lessonWords.say,
            centre = say("lesson.the-centre");
        var seen = say("lesson.both-marks-at", flankWords.place(drive, centre), flankWords.place(coast, centre));
        if (flankWords.edges(drive)) seen = say("lesson.drive-runs-off", seen, flankWords.edges(drive));
        if (flankWords.edges(coast)) seen = say("lesson.coast-runs-off", seen, flankWords.edges(coast));
        return seen;
    }

    sentence(now) {
        var why = this.faults(now).join("; "),
            seen = this.seenWords(),
            say = lessonWords.say;
        var fine =
            this.good(this.marks.drive.pattern) &&
            this.good(this.marks.coast.pattern) &&
            !flankWords.isUnder(now.backlash, this.set) &&
            !flankWords.isOver(now.backlash, this.set);
        if (!why) return fine ? say("lesson.good-leave-it", seen) : say("lesson.in-limits-not-in-box", seen);
        return fine ? say("lesson.seen-because-still-good", seen, why) : say("lesson.seen-because", seen, why);
    }

    // Works out one flank and draws it, with the way that its mark took.
    updateFlank(side, stands) {
        var separation = contact.separation(this.set.flank[side], stands.error, stands.modification[side]);
        var grid = new Float32Array(separation.length);
        for (var c = 0; c < grid.length; ++c) grid[c] = contact.mark(separation[c], this.filmMm);
        this.marks[side] = { separation: separation, pattern: contact.pattern(grid) };
        var p = this.marks[side].pattern,
            way = this.trail[side],
            end = way[way.length - 1];
        if (p && (!end || Math.hypot(p.toeHeel - end[0], p.rootTip - end[1]) > 0.004)) way.push([p.toeHeel, p.rootTip]);
        if (way.length > 60) way.shift();
        this.drawFlank(side);
    }

    draw() {
        this.asked = false;
        if (this.stopped) return;
        var now = this.setting();
        if (this.changed) {
            this.changed = false;
            ++this.turn;
            var stands = contact.setting(this.set, this.data.film_mm, now);
            this.filmMm = stands.filmMm;
            liveTooth.sides.forEach((side) => this.updateFlank(side, stands));
            this.outputs(now);
            liveTooth.write(document.getElementById("sentence"), this.sentence(now));
        }
        if (this.gears && this.gears.seen) {
            if (this.gears.painted !== this.turn) this.gears.paint(this.filmMm);
            this.gears.painted = this.turn;
            this.gears.draw(now);
        }
        if (this.playing) {
            var roll = document.getElementById("roll");
            roll.value = (parseFloat(roll.value) + 2) % 1000;
            this.ask();
        }
    }

    // The marks have to be worked out again.
    askAnew() {
        this.changed = true;
        this.ask();
    }

    good(p) {
        var rule = this.set.acceptance,
            inside = (value, range) => value >= range[0] && value <= range[1];
        return (
            !!p &&
            inside(p.toeHeel, rule.toe_heel) &&
            inside(p.rootTip, rule.root_tip) &&
            inside(p.length, rule.length) &&
            (rule.may_run_off || !flankWords.edges(p))
        );
    }

    setting() {
        var now = Object.assign({}, contact.right);
        this.sliders.forEach((name) => {
            now[name] = parseFloat(document.getElementById(name).value);
        });
        // Sliders step from their own low end: next to the right value is the right value.
        if (Math.abs(now.depth) < this.set.no_move_mm) now.depth = 0;
        if (Math.abs(now.offset) < this.set.no_move_mm) now.offset = 0;
        if (Math.abs(now.shaft) < 1e-4) now.shaft = 0;
        return now;
    }

    drawFlank(side) {
        var p = this.marks[side].pattern,
            canvas = document.getElementById(side),
            words = document.getElementById(side + "-words");
        flankCanvas.draw(canvas, {
            separation: this.marks[side].separation,
            filmMm: this.filmMm,
            even: this.set.even_height,
            pattern: p,
            zone: this.set.acceptance,
            trail: this.trail[side],
        });
        canvas.setAttribute("aria-label", flankWords.side(side, flankWords.place(p)));
        liveTooth.write(words, flankWords.mark(p));
        words.className = this.good(p) ? "good" : "";
    }

    // Outside of the page's own elements: let go of when it stops.
    listen(target, kind, hear) {
        target.addEventListener(kind, hear);
        this.letGo.push(() => {
            target.removeEventListener(kind, hear);
        });
    }

    ask() {
        if (this.asked || this.stopped) return;
        this.asked = true;
        requestAnimationFrame(() => this.draw());
    }

    outputs(now) {
        this.sliders.forEach((id) => {
            var text = flankWords.values[id](now[id], this.set, this.length);
            if (liveTooth.write(document.getElementById(id + "-out"), text))
                document.getElementById(id).setAttribute("aria-valuetext", text);
        });
    }

    rightSetting() {
        var limits = this.set.limits_backlash_mm,
            middle = 0.5 * (limits[0] + limits[1]),
            backlash = document.getElementById("backlash");
        backlash.min = Math.max(0.0127, middle - 0.1524);
        backlash.max = middle + 0.2032;
        this.sliders.forEach((name) => {
            if (name !== "backlash") document.getElementById(name).value = contact.right[name];
        });
        backlash.value = middle;
        this.changed = true;
        this.ask();
    }

    show(next) {
        this.set = next;
        if (!this.set.flank) {
            this.set.flank = {};
            liveTooth.sides.forEach((side) => {
                this.set.flank[side] = contact.flank(this.set.rates[side]);
            });
        }
        document.getElementById("set-words").textContent = lessonWords.say(
            "lesson.move-the-sliders",
            this.set.name,
            this.set.cut_words,
        );
        this.trail = { drive: [], coast: [] };
        this.rightSetting();
        if (this.gears) this.gears.build();
    }

    // A set may be there in both cuts, under one name.
    fill(id, values, chosen, words) {
        document.getElementById(id).replaceChildren.apply(
            document.getElementById(id),
            values.map((value) => {
                var option = document.createElement("option");
                option.value = value;
                option.textContent = words ? words(value) : value;
                option.selected = value === chosen;
                return option;
            }),
        );
        document.getElementById(id + "-field").hidden = values.length < 2;
    }

    cutsOf(name) {
        return this.data.sets.filter((one) => one.name === name).map((one) => one.cut);
    }

    wordsOfCut(cut) {
        return this.data.sets.filter((one) => one.cut === cut)[0].cut_words;
    }

    choose(name, cut) {
        var found = this.data.sets.filter((one) => one.name === name && (!cut || one.cut === cut))[0];
        if (document.getElementById("cut"))
            this.fill("cut", this.cutsOf(name), found.cut, (one) => this.wordsOfCut(one));
        this.show(found);
    }

    hearSetChoice() {
        if (this.data.sets.length < 2) return;
        this.fill(
            "set",
            this.data.sets.map((one) => one.name).filter((name, k, all) => all.indexOf(name) === k),
            this.data.sets[0].name,
        );
        var cut = document.getElementById("cut");
        document.getElementById("set").addEventListener("change", (event) => this.choose(event.target.value));
        if (cut) cut.addEventListener("change", () => this.choose(this.set.name, cut.value));
    }

    hearControls() {
        var on = (id, kind, hear) => document.getElementById(id).addEventListener(kind, hear);
        this.sliders.forEach((name) => on(name, "input", () => this.askAnew()));
        on("right", "click", () => this.rightSetting());
        on("clear", "click", () => {
            this.trail = { drive: [], coast: [] };
            this.askAnew();
        });
        on("roll", "input", () => this.ask());
        on("play", "click", (event) => {
            this.playing = !this.playing;
            event.currentTarget.setAttribute("aria-pressed", String(this.playing));
            this.ask();
        });
        on("pinion", "change", (event) => {
            if (this.gears) this.gears.showPinion(event.target.value);
        });
        on("look", "change", (event) => {
            if (this.gears) this.gears.lookAt(event.target.value);
        });
    }

    // The page's light, and its unit of lengths: either may change while it is shown.
    hearPage() {
        if (window.matchMedia) {
            var dark = window.matchMedia("(prefers-color-scheme: dark)");
            if (dark.addEventListener)
                this.listen(dark, "change", () => {
                    flankCanvas.readColours();
                    this.askAnew();
                });
        }
        this.listen(window, "unitturn", () => this.askAnew());
    }
};

var liveTooth = {
    sides: ["drive", "coast"],

    // Writing what stands there already would lay the page out anew.
    write(place, text) {
        if (place.textContent === text) return false;
        place.textContent = text;
        return true;
    },

    start(data, options) {
        var page = new LiveTooth(data, options || {});
        page.begin();
        return { show: (set) => page.show(set), stop: () => page.stop() };
    },
};
