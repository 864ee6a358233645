package api

import (
	"context"
	"errors"
	"strings"
	"sync"
	"time"

	"golang.org/x/time/rate"
	"google.golang.org/grpc/metadata"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
)

// Sentinel errors of access.
var (
	// errNoKey: the call carries no key. The caller presents one.
	errNoKey = errors.New("no key was presented")
	// errRole: the caller's role may not call this method.
	errRole = errors.New("role may not do this")
	// errTooOften: the caller asks too often. It waits and asks again.
	errTooOften = errors.New("too many questions in a short time")
)

// roles is a set of roles.
type roles uint8

const (
	nobody    roles = 0
	owner     roles = 1 << pb.Role_ROLE_OWNER
	assistant roles = 1 << pb.Role_ROLE_ASSISTANT
	publisher roles = 1 << pb.Role_ROLE_PUBLISHER
	staff           = owner | assistant
	everybody       = staff | publisher
)

func (r roles) has(role pb.Role) bool { return r&(1<<role) != 0 }

// open marks methods that need no key at all.
const openMethods = "/grpc.health.v1.Health/"

// Reflection tells only what the published contract tells; whether it is served at all is decided where the listeners are made.
const reflectionMethods = "/grpc.reflection."

// allowed says which roles may call a method. What isn't here is denied.
var allowed = map[string]roles{
	pb.ArchiveService_GetPicture_FullMethodName:          everybody,
	pb.ArchiveService_ListPictures_FullMethodName:        everybody,
	pb.ArchiveService_CreatePicture_FullMethodName:       staff,
	pb.ArchiveService_BatchCreatePictures_FullMethodName: staff,
	pb.ArchiveService_UpdatePicture_FullMethodName:       staff,
	pb.ArchiveService_DeletePicture_FullMethodName:       staff,
	pb.ArchiveService_GetSpecimen_FullMethodName:         staff,
	pb.ArchiveService_ListSpecimens_FullMethodName:       staff,
	pb.ArchiveService_CreateSpecimen_FullMethodName:      staff,
	pb.ArchiveService_UpdateSpecimen_FullMethodName:      staff,
	pb.ArchiveService_DeleteSpecimen_FullMethodName:      staff,
	pb.ArchiveService_ListRevisions_FullMethodName:       staff,

	pb.TaxaService_GetTaxon_FullMethodName:        everybody,
	pb.TaxaService_ListTaxa_FullMethodName:        everybody,
	pb.TaxaService_CreateTaxon_FullMethodName:     staff,
	pb.TaxaService_BatchCreateTaxa_FullMethodName: staff,
	pb.TaxaService_UpdateTaxon_FullMethodName:     staff,
	pb.TaxaService_DeleteTaxon_FullMethodName:     staff,
	pb.TaxaService_MatchNames_FullMethodName:      everybody,
	pb.TaxaService_GetLineage_FullMethodName:      everybody,
	pb.TaxaService_ParseCounts_FullMethodName:     everybody,
	pb.TaxaService_CheckCounts_FullMethodName:     everybody,

	pb.SearchService_SearchPictures_FullMethodName: everybody,

	pb.LicensingService_GetParty_FullMethodName:            staff,
	pb.LicensingService_ListParties_FullMethodName:         staff,
	pb.LicensingService_CreateParty_FullMethodName:         staff,
	pb.LicensingService_UpdateParty_FullMethodName:         staff,
	pb.LicensingService_DeleteParty_FullMethodName:         staff,
	pb.LicensingService_ForgetParty_FullMethodName:         owner,
	pb.LicensingService_GetGrant_FullMethodName:            everybody,
	pb.LicensingService_ListGrants_FullMethodName:          everybody,
	pb.LicensingService_CreateGrant_FullMethodName:         staff,
	pb.LicensingService_UpdateGrant_FullMethodName:         staff,
	pb.LicensingService_EndGrant_FullMethodName:            staff,
	pb.LicensingService_CreateUse_FullMethodName:           staff,
	pb.LicensingService_GetUse_FullMethodName:              everybody,
	pb.LicensingService_ListUses_FullMethodName:            everybody,
	pb.LicensingService_GetHistory_FullMethodName:          everybody,
	pb.LicensingService_CheckAvailability_FullMethodName:   everybody,
	pb.LicensingService_CheckAvailabilities_FullMethodName: everybody,
	pb.LicensingService_ListAlarms_FullMethodName:          staff,
	pb.LicensingService_ListHistory_FullMethodName:         everybody,
	pb.LicensingService_ExportGrant_FullMethodName:         everybody,
	pb.LicensingService_GetStatement_FullMethodName:        everybody,
	pb.LicensingService_CheckHead_FullMethodName:           everybody,

	pb.CommissionService_GetBrief_FullMethodName:     staff,
	pb.CommissionService_ListBriefs_FullMethodName:   staff,
	pb.CommissionService_CreateBrief_FullMethodName:  staff,
	pb.CommissionService_UpdateBrief_FullMethodName:  staff,
	pb.CommissionService_DeleteBrief_FullMethodName:  staff,
	pb.CommissionService_DeliverBrief_FullMethodName: staff,
	pb.CommissionService_GetChecklist_FullMethodName: staff,
	pb.CommissionService_MakePlan_FullMethodName:     staff,
	pb.CommissionService_ExportPlan_FullMethodName:   staff,
	pb.CommissionService_CheckPicture_FullMethodName: staff,

	pb.TransferService_StatOriginals_FullMethodName:  staff,
	pb.TransferService_UploadOriginal_FullMethodName: staff,
	pb.TransferService_Download_FullMethodName:       everybody,
	pb.TransferService_Deliver_FullMethodName:        everybody,
	pb.TransferService_GetDerived_FullMethodName:     everybody,

	pb.AdminService_GetStatus_FullMethodName:   everybody,
	pb.AdminService_CreateKey_FullMethodName:   owner,
	pb.AdminService_ListKeys_FullMethodName:    owner,
	pb.AdminService_RevokeKey_FullMethodName:   owner,
	pb.AdminService_Verify_FullMethodName:      staff,
	pb.AdminService_Reindex_FullMethodName:     owner,
	pb.AdminService_WaitDerived_FullMethodName: staff,
}

// admit finds out who calls, and whether the role may call the method.
func (s *Server) admit(ctx context.Context, method string) (context.Context, error) {
	if strings.HasPrefix(method, openMethods) {
		return ctx, nil
	}
	md, _ := metadata.FromIncomingContext(ctx)
	values := md.Get("authorization")
	if len(values) == 0 {
		return ctx, errNoKey
	}
	secret, ok := strings.CutPrefix(values[0], "Bearer ")
	if !ok || len(values) > 1 {
		return ctx, errNoKey
	}
	k, err := s.archive.Authenticate(secret)
	if err != nil {
		return ctx, err
	}
	p := principal{key: strings.TrimPrefix(k.GetName(), archive.Keys+"/"), role: k.GetRole(), party: k.GetParty()}
	ctx = context.WithValue(ctx, principalKey{}, p)
	if strings.HasPrefix(method, reflectionMethods) {
		return ctx, nil
	}
	if !allowed[method].has(p.role) {
		return ctx, errRole
	}
	if p.outsider() && !s.limits.allow(p.key, method) {
		return ctx, errTooOften
	}
	return ctx, nil
}

// limiter bounds how fast an outsider may ask: availability and histories map the licence book when asked without end, and each delivery costs a copy and a record.
type limiter struct {
	mu    sync.Mutex
	byKey map[string]*rate.Limiter
}

// Questions of an outsider: a page of pictures at once, then a steady rate that a person doesn't reach.
const (
	outsiderBurst  = 200
	outsiderPerSec = 5
)

func newLimiter() *limiter { return &limiter{byKey: map[string]*rate.Limiter{}} }

func (l *limiter) allow(key, method string) bool {
	switch method {
	case pb.LicensingService_CheckAvailability_FullMethodName, pb.LicensingService_GetHistory_FullMethodName,
		pb.LicensingService_ListHistory_FullMethodName, pb.LicensingService_GetStatement_FullMethodName, pb.LicensingService_CheckHead_FullMethodName,
		pb.TransferService_Deliver_FullMethodName:
	default:
		return true
	}
	return l.take(key, 1)
}

// take counts several questions at once: all of them or none.
func (l *limiter) take(key string, questions int) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	lim := l.byKey[key]
	if lim == nil {
		lim = rate.NewLimiter(rate.Every(time.Second/outsiderPerSec), outsiderBurst)
		l.byKey[key] = lim
	}
	return lim.AllowN(time.Now(), questions)
}
