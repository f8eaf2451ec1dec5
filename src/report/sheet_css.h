/// Style of the build sheet.
#pragma once

#include <string_view>

namespace shimsight::report {

inline constexpr std::string_view kSheetCss =
    R"css(:root{color-scheme:light dark;--bg:#e9edf0;--paper:#fff;--ink:#161b20;--dim:#58626c;--line:#cfd5da;--soft:#f2f4f6;--accent:#0b5c94;--pass:#1a7046;--fail:#a8231b;--warn:#8f5500}
@media (prefers-color-scheme:dark){:root{--bg:#0c0f12;--paper:#171c21;--ink:#e4e9ed;--dim:#a0acb6;--line:#343d45;--soft:#20272d;--accent:#76bdeb;--pass:#6cca9a;--fail:#ff9184;--warn:#f0b03c}}
@media print{:root{color-scheme:light;--bg:#fff;--paper:#fff;--ink:#161b20;--dim:#4e5861;--line:#c4cbd1;--soft:#f2f4f6;--accent:#0b5c94;--pass:#1a7046;--fail:#a8231b;--warn:#8f5500}}
*{box-sizing:border-box}
html{-webkit-text-size-adjust:100%;text-size-adjust:100%}
body{margin:0;background:var(--bg);color:var(--ink);font:.94rem/1.45 "Noto Sans","Liberation Sans",system-ui,sans-serif;font-variant-numeric:tabular-nums;overflow-wrap:break-word}
h1,h2,p,ul,ol,dl,dd,figure{margin:0}
.sheet{max-width:52rem;margin:1.5rem auto;background:var(--paper);padding:2.4rem 2.6rem 1.8rem;border-radius:4px;box-shadow:0 1px 3px rgba(0,0,0,.14)}
.sheet>header{display:flex;justify-content:space-between;gap:1.5rem;align-items:flex-end;border-bottom:2px solid var(--ink);padding-bottom:.75rem}
.kind{font-size:.78rem;font-weight:600;letter-spacing:.1em;text-transform:uppercase;color:var(--accent)}
h1{font-size:1.6rem;line-height:1.2;letter-spacing:-.015em}
.state{text-align:right;flex:none;font-size:.85rem;color:var(--dim)}
.dim{color:var(--dim)}
.facts{list-style:none;padding:0;display:grid;grid-template-columns:repeat(3,minmax(0,1fr));gap:.55rem 1.4rem;margin-top:1rem}
.facts li{font-weight:500;line-height:1.3}
.facts span{display:block;font-size:.75rem;font-weight:400;color:var(--dim)}
.next{margin-top:1rem;padding:.6rem .8rem;background:var(--soft);border-left:3px solid var(--warn)}
section{margin-top:1.5rem}
h2{font-size:1rem;letter-spacing:-.005em;margin-bottom:.5rem;padding-bottom:.25rem;border-bottom:1px solid var(--line)}
.pattern{display:grid;grid-template-columns:1fr 1fr;gap:1.2rem}
.pattern figcaption{font-size:.88rem;margin-bottom:.3rem}
.photos{display:grid;grid-template-columns:1fr 1fr;gap:1.2rem;margin-top:.7rem}
.photos img{display:block;width:100%;height:auto;border-radius:3px}
.note{font-size:.82rem;color:var(--dim);margin-top:.5rem}
table{border-collapse:collapse;width:100%;font-size:.88rem;line-height:1.38}
th,td{text-align:left;vertical-align:top;padding:.34rem .8rem .34rem 0;border-bottom:1px solid var(--line)}
th:last-child,td:last-child{padding-right:0}
thead th{font-size:.75rem;font-weight:500;color:var(--dim);padding-top:0}
tbody th{font-weight:600}
.settings th{width:30%}.settings .value{width:38%;font-weight:500}
.readings tbody th{width:17%}.readings td:nth-child(3){width:13%}
.who{width:17%;font-size:.82rem;line-height:1.3}
.checks td:first-child{width:1.6rem;padding-right:.4rem}
.checks tbody th{font-weight:500;width:33%}
.way td:nth-child(4),.way td:nth-child(5){white-space:nowrap}
sup{font-size:.68rem;line-height:0;color:var(--dim);margin-left:.1rem}
.mark{display:inline-block;font-size:.78rem;font-weight:600;line-height:1.3;padding:.08rem .5rem;border:1px solid currentColor;border-radius:3px}
.mark.pass{color:var(--pass)}.mark.fail{color:var(--fail);border-width:2px}.mark.none{color:var(--dim);border-style:dashed}.mark.open{color:var(--warn)}
.box{display:inline-block;width:.95rem;height:.95rem;border:1.3px solid var(--ink);border-radius:2px;vertical-align:-.12rem;flex:none}
.box svg{display:block;width:100%;height:100%;fill:none;stroke:var(--ink);stroke-width:1.7;stroke-linecap:round;stroke-linejoin:round}
.box.off{border-color:var(--dim)}.box.off svg{stroke:var(--dim)}
.list{list-style:none;padding:0;display:grid;grid-template-columns:1fr 1fr;gap:.5rem 1.5rem;font-size:.9rem;line-height:1.35}
.list li{display:flex;gap:.55rem}
.list .box{margin-top:.12rem}
.list .dim{font-size:.82rem}
.plain{padding-left:1.1rem;display:grid;gap:.2rem;font-size:.9rem}
.lines{display:grid;grid-template-columns:repeat(3,1fr);gap:1.5rem;margin-top:2.6rem}
.line span{display:block;border-bottom:1px solid var(--ink)}
.line p{font-size:.78rem;color:var(--dim);margin-top:.25rem}
.sources{padding-left:1.2rem;font-size:.8rem;color:var(--dim);display:grid;gap:.15rem}
.small h2{font-size:.85rem;border:0;margin-bottom:.2rem}
footer{margin-top:1.6rem;padding-top:.6rem;border-top:1px solid var(--line);font-size:.76rem;color:var(--dim)}
@media screen and (max-width:40rem){.sheet{margin:0;padding:1.2rem .9rem;border-radius:0;box-shadow:none}.facts{grid-template-columns:1fr 1fr}.pattern,.photos,.list,.lines{grid-template-columns:1fr}.lines{gap:2.4rem}h1{font-size:1.35rem}.sheet>header{flex-wrap:wrap;gap:.5rem}.state{text-align:left}
table,tbody,tr,td,tbody th{display:block}thead{display:none}tr{padding:.45rem 0;border-bottom:1px solid var(--line)}th,td{border:0;padding:.05rem 0;width:auto!important}}
@media print{@page{margin:11mm 15mm 12mm}html{font-size:15.2px}body{font-size:9pt;line-height:1.34}th,td{padding:.2rem .7rem .2rem 0}.list{gap:.26rem 1.5rem}.lines{margin-top:2rem}.plain{gap:.08rem}.facts{gap:.35rem 1.4rem;margin-top:.7rem}.sheet{margin:0;padding:0;max-width:none;box-shadow:none;background:none}section{margin-top:9pt}.keep,tr,.list li,figure{break-inside:avoid}h2{break-after:avoid}.photos img{max-height:42mm;width:100%;object-fit:cover}.photos img,.fk{-webkit-print-color-adjust:exact;print-color-adjust:exact}thead{display:table-header-group}}
)css";

}  // namespace shimsight::report
