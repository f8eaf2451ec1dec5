// The live tooth's page: sliders, flanks on canvas, the gear pair. The numbers come from contact.js.
// liveTooth.start(data, options) drives the elements of live.html. options.length(mm) words lengths (else both units are
// told); options.three is a promise that three.js is there (else it is there already). What it returns: show(set) takes another set of the form of data.sets[0], stop() lets go of everything.
var liveTooth = {
    start: function (data, options) {
        "use strict";
        options = options || {};
        var sides = ["drive", "coast"];
        var element = function (id) {
            return document.getElementById(id);
        };
        // A page may leave some of them out.
        var sliders = Object.keys(contact.right).concat("lash").filter(element);
        var length = options.length || flankWords.length,
            place = flankWords.place,
            edges = flankWords.edges;
        var set = null,
            stopped = false,
            letGo = [],
            trail = { drive: [], coast: [] },
            marks = {},
            noMoveMm = 0.0025;

        // ---- Words ----

        function good(p) {
            var rule = set.acceptance,
                inside = function (value, range) {
                    return value >= range[0] && value <= range[1];
                };
            return (
                !!p &&
                inside(p.toeHeel, rule.toe_heel) &&
                inside(p.rootTip, rule.root_tip) &&
                inside(p.length, rule.length) &&
                (rule.may_run_off || !edges(p).length)
            );
        }

        function sentence(now) {
            var drive = marks.drive.pattern,
                coast = marks.coast.pattern,
                limits = set.limits_backlash_mm,
                why = [];
            if (Math.abs(now.depth) > noMoveMm)
                why.push(
                    "the pinion is " +
                        length(now.depth) +
                        " too " +
                        (now.depth > 0 ? "deep" : "shallow") +
                        ", which " +
                        (now.depth > 0 ? "pulls both marks toward the root" : "lifts both marks toward the tip"),
                );
            if (now.lash > limits[1] + 1e-9)
                why.push(
                    "the backlash is " +
                        length(now.lash - limits[1]) +
                        " over its limits: the ring gear stands too far away",
                );
            if (now.lash < limits[0] - 1e-9)
                why.push(
                    "the backlash is " +
                        length(limits[0] - now.lash) +
                        " under its limits: the ring gear stands too close",
                );
            if (Math.abs(now.offset) > noMoveMm)
                why.push(
                    "the offset is " +
                        length(now.offset) +
                        " too " +
                        (now.offset > 0 ? "large" : "small") +
                        ", which sends drive and coast opposite ways",
                );
            if (now.shaft)
                why.push(
                    "the shaft angle is " +
                        angle(now.shaft) +
                        " too " +
                        (now.shaft > 0 ? "large" : "small") +
                        ", which " +
                        (now.shaft > 0 ? "lifts" : "lowers") +
                        " the drive mark and leaves the height of the coast mark",
                );
            if (now.crown < 0.75) why.push("the crown is worn, which makes the marks long");
            if (now.film > 1.4) why.push("the coat is thick, which makes the marks look large");
            if (now.film < 0.7) why.push("the coat is thin, which makes the marks look small");
            if (Math.abs(now.bias) > 7) why.push("the teeth are cut with more bias, which slants the marks");
            var seen =
                "Drive at " +
                (place(drive) === "centre" ? "the centre" : place(drive)) +
                ", coast at " +
                (place(coast) === "centre" ? "the centre" : place(coast));
            sides.forEach(function (side) {
                var off = edges(marks[side].pattern);
                if (off.length) seen += "; " + side + " runs off the " + off.join(" and ");
            });
            var fine = good(drive) && good(coast) && now.lash >= limits[0] - 1e-9 && now.lash <= limits[1] + 1e-9;
            if (!why.length)
                return (
                    seen +
                    (fine
                        ? ": a good pattern, leave it."
                        : ": within the limits of depth and backlash, but not yet in the box.")
                );
            return seen + ": " + why.join("; ") + "." + (fine ? " Still inside the rule." : "");
        }

        // ---- Setting ----

        function setting() {
            var now = Object.assign({}, contact.right);
            sliders.forEach(function (name) {
                now[name] = parseFloat(element(name).value);
            });
            // Sliders step from their own low end: next to the right value is the right value.
            if (Math.abs(now.depth) < noMoveMm) now.depth = 0;
            if (Math.abs(now.offset) < noMoveMm) now.offset = 0;
            if (Math.abs(now.shaft) < 1e-4) now.shaft = 0;
            return now;
        }

        function angle(degrees) {
            return (60 * Math.abs(degrees)).toFixed(1) + "\u2032";
        }

        function drawFlank(side, filmMm) {
            var p = marks[side].pattern,
                canvas = element(side),
                words = element(side + "-words");
            flankCanvas.draw(canvas, {
                separation: marks[side].separation,
                filmMm: filmMm,
                even: set.even_height,
                pattern: p,
                zone: set.acceptance,
                trail: trail[side],
            });
            canvas.setAttribute("aria-label", side + " flank: " + place(p));
            write(
                words,
                place(p) +
                    (p
                        ? ", " +
                          Math.round(100 * p.toeHeel) +
                          "\u00a0% from the toe, " +
                          Math.round(100 * p.rootTip) +
                          "\u00a0% from the root"
                        : ""),
            );
            words.className = good(p) ? "good" : "";
        }

        // Outside of the page's own elements: let go of when it stops.
        function listen(target, kind, hear) {
            target.addEventListener(kind, hear);
            letGo.push(function () {
                target.removeEventListener(kind, hear);
            });
        }

        // ---- Gear pair ----

        var gears = null;

        function noGears() {
            if (stopped) return;
            element("view").hidden = true;
            element("no-view").hidden = false;
            document.querySelector(".viewbar").hidden = true;
        }

        function makeGears() {
            var box = element("view"),
                renderer;
            try {
                renderer = new Three.WebGLRenderer({ antialias: true, alpha: true });
            } catch (error) {
                noGears();
                return;
            }
            renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));
            box.appendChild(renderer.domElement);
            var scene = new Three.Scene(),
                camera = new Three.PerspectiveCamera(32, 1, 1, 3000);
            scene.add(new Three.HemisphereLight(0xffffff, 0x8a94a0, 1.7));
            var sun = new Three.DirectionalLight(0xffffff, 2.2);
            scene.add(sun);
            scene.add(sun.target);
            gears = {
                renderer: renderer,
                scene: scene,
                camera: camera,
                sun: sun,
                box: box,
                around: 0,
                height: 0,
                zoom: 1,
                root: null,
                textures: {},
                seen: true,
                painted: null,
            };
            sides.forEach(function (side) {
                var canvas = document.createElement("canvas");
                canvas.width = contact.columns * 2;
                canvas.height = contact.rows * 2;
                var texture = new Three.CanvasTexture(canvas);
                texture.colorSpace = Three.SRGBColorSpace;
                gears.textures[side] = texture;
            });
            var drag = null;
            box.addEventListener("pointerdown", function (event) {
                drag = [event.clientX, event.clientY];
            });
            listen(window, "pointerup", function () {
                drag = null;
            });
            listen(window, "pointercancel", function () {
                drag = null;
            });
            listen(window, "pointermove", function (event) {
                if (!drag) return;
                turnView(
                    (event.clientX - drag[0]) * 0.008,
                    event.pointerType === "mouse" ? (event.clientY - drag[1]) * 0.008 : 0,
                );
                drag = [event.clientX, event.clientY];
            });
            box.addEventListener("keydown", function (event) {
                var step = { ArrowLeft: [-0.1, 0], ArrowRight: [0.1, 0], ArrowUp: [0, 0.1], ArrowDown: [0, -0.1] }[
                    event.key
                ];
                if (!step) return;
                event.preventDefault();
                turnView(step[0], step[1]);
            });
            box.addEventListener(
                "wheel",
                function (event) {
                    if (!event.ctrlKey) return;
                    event.preventDefault();
                    gears.zoom = Math.min(Math.max(gears.zoom * Math.exp(event.deltaY * 0.002), 0.4), 2.5);
                    ask();
                },
                { passive: false },
            );
            // What nobody sees is not drawn: on a phone the sliders lie above the gears.
            if (window.IntersectionObserver) {
                gears.seen = false;
                var sight = new IntersectionObserver(function (entries) {
                    gears.seen = entries[entries.length - 1].isIntersecting;
                    if (gears.seen) ask();
                });
                sight.observe(box);
                letGo.push(function () {
                    sight.disconnect();
                });
            }
            if (window.ResizeObserver) {
                var watch = new ResizeObserver(ask);
                watch.observe(box);
                letGo.push(function () {
                    watch.disconnect();
                });
            }
            letGo.push(function () {
                dropGears();
                renderer.dispose();
                renderer.forceContextLoss();
            });
            buildGears();
        }

        function turnView(dx, dy) {
            gears.around += dx;
            gears.height = Math.min(Math.max(gears.height + dy, -0.3), 1.5);
            ask();
        }

        function vertex(points, k) {
            return [points[3 * k], points[3 * k + 1], points[3 * k + 2]];
        }
        function turnedX(p, a) {
            return [p[0], p[1] * Math.cos(a) - p[2] * Math.sin(a), p[1] * Math.sin(a) + p[2] * Math.cos(a)];
        }
        function turnedZ(p, a) {
            return [p[0] * Math.cos(a) - p[1] * Math.sin(a), p[0] * Math.sin(a) + p[1] * Math.cos(a), p[2]];
        }
        function between(a, b, t) {
            return a.map(function (value, k) {
                return value + t * (b[k] - value);
            });
        }

        // A surface from lines of points of the same length; uv along and across it.
        function surface(lines) {
            var columns = lines[0].length,
                positions = [],
                uv = [],
                triangles = [];
            lines.forEach(function (line, j) {
                line.forEach(function (p, i) {
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
        }

        // A solid turned about an axis: points (place along the axis, radius).
        function turnedSolid(profile, about) {
            var lines = profile.map(function (point) {
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
            return lines.slice(1).map(function (line, k) {
                return surface([lines[k], line]);
            });
        }

        function dropGears() {
            if (!gears.root) return;
            gears.scene.remove(gears.root);
            gears.root.traverse(function (part) {
                if (part.geometry) part.geometry.dispose();
                if (part.material) part.material.dispose();
            });
            gears.root = null;
        }

        function buildGears() {
            var g = set.gear,
                columns = g.columns,
                rows = g.rows;
            dropGears();
            var linesOf = function (base64) {
                var points = contact.floats(base64),
                    lines = [];
                for (var j = 0; j < rows; ++j) {
                    lines.push([]);
                    for (var i = 0; i < columns; ++i) lines[j].push(vertex(points, j * columns + i));
                }
                return lines;
            };
            var ring = { drive: linesOf(g.ring.drive), coast: linesOf(g.ring.coast) };
            var pinion = { drive: linesOf(g.pinion.drive), coast: linesOf(g.pinion.coast) };
            var root = new Three.Group(),
                ringGroup = new Three.Group(),
                pinionGroup = new Three.Group();
            pinionGroup.rotation.order = "YXZ"; // its axis tilts with the shaft angle, and it turns about that
            root.add(ringGroup);
            root.add(pinionGroup);
            // The frame shows a right-hand ring gear; a left-hand one is its mirror image.
            if (g.left_hand) root.scale.y = -1;
            var steel = new Three.MeshStandardMaterial({
                color: 0xaeb8c1,
                metalness: 0.25,
                roughness: 0.55,
                side: Three.DoubleSide,
            });
            var pinionSteel = new Three.MeshStandardMaterial({
                color: 0xc4b59a,
                metalness: 0.25,
                roughness: 0.5,
                side: Three.DoubleSide,
            });
            var repeat = function (group, geometry, material, count, axis, order) {
                var mesh = new Three.InstancedMesh(geometry, material, count),
                    matrix = new Three.Matrix4();
                for (var k = 0; k < count; ++k) {
                    matrix[axis === "x" ? "makeRotationX" : "makeRotationZ"]((2 * Math.PI * k) / count);
                    mesh.setMatrixAt(k, matrix);
                }
                mesh.frustumCulled = false;
                mesh.renderOrder = order || 0;
                group.add(mesh);
            };

            var pitch = (2 * Math.PI) / g.ring_teeth,
                last = rows - 1;
            var onRing = function (geometry, material) {
                repeat(ringGroup, geometry, material || steel, g.ring_teeth, "z");
            };
            sides.forEach(function (side) {
                onRing(
                    surface(ring[side].slice(1)),
                    new Three.MeshStandardMaterial({
                        map: gears.textures[side],
                        metalness: 0.15,
                        roughness: 0.6,
                        side: Three.DoubleSide,
                    }),
                );
                onRing(surface([ring[side][0], ring[side][1]]));
            });
            onRing(surface([ring.drive[last], ring.coast[last]]));
            onRing(
                surface([
                    ring.coast[0],
                    ring.drive[0].map(function (p) {
                        return turnedZ(p, pitch);
                    }),
                ]),
            );
            [0, columns - 1].forEach(function (i) {
                onRing(
                    surface([
                        ring.drive.map(function (line) {
                            return line[i];
                        }),
                        ring.coast.map(function (line) {
                            return line[i];
                        }),
                    ]),
                );
            });
            var middle = function (i) {
                var a = ring.drive[0][i],
                    b = ring.coast[0][i];
                return [0.5 * (a[2] + b[2]) + 0.4, 0.5 * (Math.hypot(a[0], a[1]) + Math.hypot(b[0], b[1]))];
            };
            var toe = middle(0),
                heel = middle(columns - 1),
                back = Math.max(toe[0], heel[0]) + 12,
                bore = 0.8 * toe[1];
            turnedSolid(
                [[toe[0] + 2, bore], toe, heel, [back, heel[1]], [back, bore], [toe[0] + 2, bore]],
                "z",
            ).forEach(function (band) {
                ringGroup.add(new Three.Mesh(band, steel));
            });

            var step = (2 * Math.PI) / g.pinion_teeth,
                mid = (columns - 1) / 2;
            var gap = function (a) {
                var p = pinion.drive[0][mid],
                    q = turnedX(pinion.coast[0][mid], a);
                return Math.hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2]);
            };
            var over = gap(step) < gap(-step) ? step : -step;
            var nextCoast = pinion.coast.map(function (line) {
                return line.map(function (p) {
                    return turnedX(p, over);
                });
            });
            // Seen through, only the nearest surface of the pinion tints what lies behind: its depth is drawn first.
            var shade = new Three.MeshStandardMaterial({
                colorWrite: false,
                transparent: true,
                side: Three.DoubleSide,
            });
            var onPinion = function (geometry) {
                repeat(pinionGroup, geometry, shade, g.pinion_teeth, "x", 1);
                repeat(pinionGroup, geometry, pinionSteel, g.pinion_teeth, "x", 2);
            };
            // Where the tooth comes to a point before its tip, it ends there.
            var thickness = function (j, i) {
                var p = pinion.drive[j][i],
                    q = nextCoast[j][i],
                    a = Math.atan2(q[2], q[1]) - Math.atan2(p[2], p[1]);
                return Math.atan2(Math.sin(a), Math.cos(a));
            };
            for (var i = 0; i < columns; ++i) {
                for (var j = last - 1; j >= 0; --j) {
                    if (thickness(j, i) * thickness(last, mid) > 0 && Math.abs(thickness(j, i)) > 0.05 * step) continue;
                    [pinion.drive, pinion.coast, nextCoast].forEach(function (lines) {
                        lines[j][i] = lines[j + 1][i];
                    });
                }
            }
            sides.forEach(function (side) {
                onPinion(surface(pinion[side]));
            });
            var sunk = function (t) {
                return pinion.drive[last].map(function (p, i) {
                    var q = between(p, pinion.coast[last][i], t),
                        r = Math.hypot(q[1], q[2]),
                        k = (r - 1.2) / r;
                    return [q[0], q[1] * k, q[2] * k];
                });
            };
            onPinion(surface([pinion.drive[last], sunk(0.25), sunk(0.75), pinion.coast[last]]));
            onPinion(surface([pinion.drive[0], nextCoast[0]]));
            [0, columns - 1].forEach(function (i) {
                onPinion(
                    surface([
                        pinion.drive.map(function (line) {
                            return line[i];
                        }),
                        nextCoast.map(function (line) {
                            return line[i];
                        }),
                    ]),
                );
            });
            var core = function (i) {
                var p = pinion.drive[last][i];
                return [p[0], Math.hypot(p[1], p[2]) - 1.3];
            };
            var inner = core(0),
                outer = core(columns - 1),
                shaft = 0.62 * outer[1];
            var way = outer[0] > inner[0] ? 1 : -1;
            turnedSolid(
                [
                    [inner[0], 0],
                    inner,
                    outer,
                    [outer[0] + 2 * way, shaft],
                    [outer[0] + 42 * way, shaft],
                    [outer[0] + 42 * way, 0],
                ],
                "x",
            ).forEach(function (band) {
                [shade, pinionSteel].forEach(function (material, k) {
                    var mesh = new Three.Mesh(band, material);
                    mesh.renderOrder = k + 1;
                    pinionGroup.add(mesh);
                });
            });

            gears.scene.add(root);
            gears.root = root;
            gears.ring = ringGroup;
            gears.pinion = pinionGroup;
            gears.pinionSteel = pinionSteel;
            gears.target = g.pitch_point.slice();
            if (g.left_hand) gears.target[1] = -gears.target[1];
            gears.reach = 6.8 * set.face_width_mm;
            lookAt(element("look").value);
            showPinion(element("pinion").value);
        }

        function showPinion(how) {
            gears.pinion.visible = how !== "none";
            gears.pinionSteel.transparent = how === "glass";
            gears.pinionSteel.opacity = how === "glass" ? 0.4 : 1;
            gears.pinionSteel.needsUpdate = true;
            ask();
        }

        function lookAt(side) {
            gears.around = side === "drive" ? -0.35 : 0.35;
            gears.height = 0.4;
            ask();
        }

        function paintTeeth(filmMm) {
            sides.forEach(function (side) {
                var texture = gears.textures[side],
                    canvas = texture.image,
                    context = canvas.getContext("2d");
                var image = context.createImageData(canvas.width, canvas.height),
                    s = marks[side].separation;
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

        function drawGears(now) {
            var wide = gears.box.clientWidth,
                high = gears.box.clientHeight,
                g = set.gear;
            if (!wide || !high) return;
            if (gears.wide !== wide || gears.high !== high) {
                gears.wide = wide;
                gears.high = high;
                gears.renderer.setSize(wide, high);
                gears.camera.aspect = wide / high;
                gears.camera.updateProjectionMatrix();
            }
            var angle = ((element("roll").value / 1000) * 4 * 2 * Math.PI) / g.ring_teeth;
            var error = contact.setting(set, data.film_mm, now).error;
            gears.ring.rotation.z = angle;
            gears.ring.position.z = -error[1];
            gears.pinion.rotation.x = g.ratio * angle;
            gears.pinion.rotation.y = error[3];
            gears.pinion.position.set(-error[0], g.offset_mm + error[2], 0);
            // The camera goes round the point of mesh on the side of the teeth (-Z); up is away from the ring gear's axis.
            var t = gears.target,
                out = Math.hypot(t[0], t[1]),
                ox = t[0] / out,
                oy = t[1] / out,
                mirror = g.left_hand ? -1 : 1;
            var a = gears.around * mirror,
                h = gears.height,
                reach = gears.reach * gears.zoom * Math.max(1, (1.25 * high) / wide);
            var sx = -oy,
                sy = ox;
            var flat = Math.sin(a) * Math.cos(0.5 * h),
                rise = Math.sin(h) * 0.55,
                front = Math.cos(a) * 0.9;
            gears.camera.up.set(ox, oy, 0);
            gears.camera.position.set(
                t[0] + reach * (flat * sx + rise * ox),
                t[1] + reach * (flat * sy + rise * oy),
                t[2] - reach * front,
            );
            gears.camera.lookAt(t[0], t[1], t[2]);
            gears.sun.position.copy(gears.camera.position);
            gears.sun.position.x += reach * 0.4 * ox;
            gears.sun.position.y += reach * 0.4 * oy;
            gears.sun.target.position.set(t[0], t[1], t[2]);
            gears.renderer.render(gears.scene, gears.camera);
        }

        // ---- All together ----

        var asked = false,
            changed = true,
            playing = false,
            turn = 0,
            filmMm = data.film_mm;
        function ask() {
            if (asked || stopped) return;
            asked = true;
            requestAnimationFrame(draw);
        }

        // Writing what stands there already would lay the page out anew.
        function write(place, text) {
            if (place.textContent === text) return false;
            place.textContent = text;
            return true;
        }

        function outputs(now) {
            var word = function (id, text) {
                if (sliders.indexOf(id) < 0) return;
                if (write(element(id + "-out"), text)) element(id).setAttribute("aria-valuetext", text);
            };
            var limits = set.limits_backlash_mm;
            word(
                "depth",
                now.depth === 0 ? "right" : length(now.depth) + (now.depth > 0 ? " too deep" : " too shallow"),
            );
            word(
                "lash",
                length(now.lash) +
                    (now.lash < limits[0] - 1e-9
                        ? ", under the limits"
                        : now.lash > limits[1] + 1e-9
                          ? ", over the limits"
                          : ", inside the limits"),
            );
            word(
                "offset",
                now.offset === 0 ? "none" : length(now.offset) + (now.offset > 0 ? " too large" : " too small"),
            );
            word("shaft", now.shaft === 0 ? "right" : angle(now.shaft) + (now.shaft > 0 ? " too large" : " too small"));
            word("film", now.film.toFixed(2) + " times the usual coat");
            word("crown", now.crown.toFixed(2) + " times its own");
            word(
                "bias",
                now.bias === 0 ? "its own" : (now.bias > 0 ? "+" : "-") + Math.abs(now.bias) + "\u00a0\u00b5m",
            );
        }

        function draw() {
            asked = false;
            if (stopped) return;
            var now = setting();
            if (changed) {
                changed = false;
                ++turn;
                var stands = contact.setting(set, data.film_mm, now);
                filmMm = stands.filmMm;
                sides.forEach(function (side) {
                    var separation = contact.separation(set.flank[side], stands.error, stands.modification[side]);
                    var grid = new Float32Array(separation.length);
                    for (var c = 0; c < grid.length; ++c) grid[c] = contact.mark(separation[c], filmMm);
                    marks[side] = { separation: separation, pattern: contact.pattern(grid) };
                    var p = marks[side].pattern,
                        way = trail[side],
                        end = way[way.length - 1];
                    if (p && (!end || Math.hypot(p.toeHeel - end[0], p.rootTip - end[1]) > 0.004))
                        way.push([p.toeHeel, p.rootTip]);
                    if (way.length > 60) way.shift();
                    drawFlank(side, filmMm);
                });
                outputs(now);
                write(element("sentence"), sentence(now));
            }
            if (gears && gears.seen) {
                if (gears.painted !== turn) paintTeeth(filmMm);
                gears.painted = turn;
                drawGears(now);
            }
            if (playing) {
                var roll = element("roll");
                roll.value = (parseFloat(roll.value) + 2) % 1000;
                ask();
            }
        }

        function rightSetting() {
            var limits = set.limits_backlash_mm,
                middle = 0.5 * (limits[0] + limits[1]),
                lash = element("lash");
            lash.min = Math.max(0.0127, middle - 0.1524);
            lash.max = middle + 0.2032;
            sliders.forEach(function (name) {
                if (name !== "lash") element(name).value = contact.right[name];
            });
            lash.value = middle;
            changed = true;
            ask();
        }

        function show(next) {
            set = next;
            if (!set.flank) {
                set.flank = {};
                sides.forEach(function (side) {
                    set.flank[side] = contact.flank(set.rates[side]);
                });
            }
            element("set-words").textContent = set.name + ", " + set.cut + ". Move the sliders and watch both marks.";
            trail = { drive: [], coast: [] };
            rightSetting();
            if (gears) buildGears();
        }

        // A set may be there in both cuts, under one name.
        function fill(id, texts, chosen) {
            element(id).replaceChildren.apply(
                element(id),
                texts.map(function (text) {
                    var option = document.createElement("option");
                    option.value = option.textContent = text;
                    option.selected = text === chosen;
                    return option;
                }),
            );
            element(id + "-field").hidden = texts.length < 2;
        }
        function cutsOf(name) {
            return data.sets
                .filter(function (one) {
                    return one.name === name;
                })
                .map(function (one) {
                    return one.cut;
                });
        }
        function choose(name, cut) {
            var found = data.sets.filter(function (one) {
                return one.name === name && (!cut || one.cut === cut);
            })[0];
            if (element("cut")) fill("cut", cutsOf(name), found.cut);
            show(found);
        }
        if (data.sets.length > 1) {
            fill(
                "set",
                data.sets
                    .map(function (one) {
                        return one.name;
                    })
                    .filter(function (name, k, all) {
                        return all.indexOf(name) === k;
                    }),
                data.sets[0].name,
            );
            element("set").addEventListener("change", function () {
                choose(this.value);
            });
            if (element("cut"))
                element("cut").addEventListener("change", function () {
                    choose(set.name, this.value);
                });
        }
        sliders.forEach(function (name) {
            element(name).addEventListener("input", function () {
                changed = true;
                ask();
            });
        });
        element("right").addEventListener("click", rightSetting);
        element("clear").addEventListener("click", function () {
            trail = { drive: [], coast: [] };
            changed = true;
            ask();
        });
        element("roll").addEventListener("input", ask);
        element("play").addEventListener("click", function () {
            playing = !playing;
            this.setAttribute("aria-pressed", String(playing));
            ask();
        });
        element("pinion").addEventListener("change", function () {
            if (gears) showPinion(this.value);
        });
        element("look").addEventListener("change", function () {
            if (gears) lookAt(this.value);
        });
        if (window.matchMedia) {
            var dark = window.matchMedia("(prefers-color-scheme: dark)");
            var recolour = function () {
                flankCanvas.readColours();
                changed = true;
                ask();
            };
            if (dark.addEventListener) listen(dark, "change", recolour);
        }
        // The page says lengths in the other unit from here on.
        listen(window, "unitturn", function () {
            changed = true;
            ask();
        });
        if (data.sets.length > 1) choose(data.sets[0].name);
        else show(data.sets[0]);
        draw();
        // The marks first, then the gears: the first picture must not wait.
        setTimeout(function () {
            Promise.resolve(options.three).then(function () {
                if (stopped) return;
                makeGears();
                changed = true;
                ask();
            }, noGears);
        }, 30);
        return {
            show: show,
            stop: function () {
                stopped = true;
                letGo.forEach(function (one) {
                    one();
                });
            },
        };
    },
};
